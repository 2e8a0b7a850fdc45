/* wide: numbers side by side, for the kernels of frontal.c and shell_face.c only. Four and eight of
 * them, wherever they lie; what they are added up to has the same bits with and without such
 * vectors in the machine. A kernel is written once, always inlined, and compiled for each width. */
#ifndef RELICT_BODY_WIDE_H
#define RELICT_BODY_WIDE_H

typedef double four __attribute__((vector_size(32), aligned(8), may_alias));
typedef double eight __attribute__((vector_size(64), aligned(8), may_alias));

#define INLINE static inline __attribute__((always_inline))
#define FOUR(p) (*(const four *)(p))
#define EIGHT(p) (*(const eight *)(p))
#define TO_FOUR(p) (*(four *)(p))
#define TO_EIGHT(p) (*(eight *)(p))

#endif
