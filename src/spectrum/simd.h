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

/* Four doubles anywhere in memory, processed at once. A loop over an array of sums would mean the same, but gcc 12
 * makes it much slower: it gathers each lane's values from several rounds before it adds them. */
typedef double lds_four __attribute__((vector_size(32), aligned(8), may_alias));
typedef long long lds_four_mask __attribute__((vector_size(32), aligned(8), may_alias));

/* Per lane the first value where the comparison is true, else the second. */
#define lds_four_choose(held, first, second)                                                                           \
    ((lds_four)(((held) & (lds_four_mask)(first)) | (~(held) & (lds_four_mask)(second))))

#endif
