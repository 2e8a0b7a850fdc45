/* sha256: the Secure Hash Algorithm of FIPS 180-4 with 256 bits. */
#ifndef RELICT_BASE_SHA256_H
#define RELICT_BASE_SHA256_H

#include <stddef.h>
#include <stdint.h>

enum { SHA256_BYTES = 32, SHA256_TEXT = 65 };

struct sha256 {
    uint32_t state[8];
    uint64_t length;         /* bytes taken so far */
    unsigned char block[64]; /* what does not fill a block yet */
};

void sha256_begin(struct sha256 *s);
void sha256_add(struct sha256 *s, const void *bytes, size_t n);
void sha256_end(struct sha256 *s, unsigned char out[SHA256_BYTES]);

/* Hash of one run of bytes as 64 lower-case hexadecimal signs and a 0. */
void sha256_text(const void *bytes, size_t n, char out[SHA256_TEXT]);

/* Writes a finished hash as text. */
void sha256_hex(const unsigned char hash[SHA256_BYTES], char out[SHA256_TEXT]);

#endif
