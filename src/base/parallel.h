/* parallel: spread a loop over threads so that the answer does not depend on how many there are.
 *
 * The range is cut into fixed chunks by `chunk` alone; each chunk is handed to one thread; whatever
 * a chunk works out it writes to its own place, and the caller merges the places in order.
 */
#ifndef RELICT_BASE_PARALLEL_H
#define RELICT_BASE_PARALLEL_H

#include <stddef.h>

/* Works on items [begin, end) of chunk number `index`. */
typedef void parallel_body(size_t begin, size_t end, size_t index, void *context);

/* Calls body for each chunk of [0, n); returns when all are done. chunk 0 stands for 1. */
void parallel_for(size_t n, size_t chunk, parallel_body *body, void *context);

/* How many chunks parallel_for makes of n items. */
size_t parallel_chunks(size_t n, size_t chunk);

/* Threads to use; 0 asks the machine (at most 16). Set once at the door. */
void parallel_set_threads(unsigned threads);
unsigned parallel_threads(void);

#endif
