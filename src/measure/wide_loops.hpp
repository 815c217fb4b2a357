#pragma once
// Marks a function whose loops over float arrays most of the time goes into: built for wide vectors as well, and for
// every processor with the same result, as each element is worked out by itself.

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__SANITIZE_ADDRESS__)
#define LOTWEAR_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define LOTWEAR_WIDE
#endif
