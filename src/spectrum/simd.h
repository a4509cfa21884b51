/* Hot loops are compiled twice, for the baseline and for wide vectors, and one is chosen when the program starts.
 * Sanitizers cannot run code that early, so they use the baseline. */
#ifndef LDS_SPECTRUM_SIMD_H
#define LDS_SPECTRUM_SIMD_H

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__) &&               \
    !defined(__SANITIZE_THREAD__)
#define LDS_HOT __attribute__((target_clones("default", "arch=x86-64-v3"), optimize("O3")))
#else
#define LDS_HOT
#endif

#endif
