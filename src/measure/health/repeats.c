/* Blocks that appear twice in a row in the capture: a driver that missed a buffer may deliver the last one again.
 * Block [s, s + r) repeats the r >= lag samples before it when x[i] = x[i - lag] throughout. A hash of the last 8
 * samples is computed at every sample and leads to the place where it last occurred; at every 8th sample that place is
 * compared. Samples are compared by 32 bits of a hash of each: 16 in a row that match without being equal have a chance
 * of one in 2^512. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/health/parts.h"
#include "spectrum/simd.h"

enum {
    WINDOW = 8,                /* samples in a hash */
    STRIDE = 8,                /* between samples whose hash is looked up */
    LAG_MIN = WINDOW + STRIDE, /* a block of this length always contains a window whose hash is looked up */
    LAG_MAX = 8192,
    CONTEXT = LDS_HEALTH_AROUND,
    KEEP = LAG_MAX + 2 * CONTEXT, /* samples kept behind a block */
    ROOM = KEEP + 8 * LDS_HEALTH_BLOCK + CONTEXT,
    PLACE_BITS = 13,
    TRIES_MAX = 256,  /* failed comparisons in a block: more mean that it has few different samples or is nearly
                       * periodic */
    PERIODS_MAX = 64, /* repeated more often than this, it is a periodic signal */
    CHANGES_MIN = 8,
    CONTEXT_CHANGES_MIN = 32,
};

/* -ln of the probability of a chance repeat below which a repeat is certain: with 8192 lags at each of 10^9 samples,
 * e^-15 is left. */
static const double sure = 45.0;

struct lds_health_repeats {
    int64_t first; /* sample number of hash[0] */
    size_t count;  /* number of hashes held */
    uint32_t hash[ROOM];
    uint32_t key[LDS_HEALTH_BLOCK + STRIDE]; /* hash of the window that ends at each sample of the block */
    uint16_t place[1 << PLACE_BITS];         /* low bits of the number of the newest sample with that key */
    int tries;
    bool open; /* a run of equal samples reaches the end of the block */
    int64_t start, lag;
    int64_t changes;              /* samples of the run that differ from the previous one */
    int64_t around, around_equal; /* changes around the run, and those of them that are equal at the same lag */
    struct lds_fault_list list;
};

struct lds_health_repeats *lds_health_repeats_new(void)
{
    return calloc(1, sizeof(struct lds_health_repeats));
}

void lds_health_repeats_free(struct lds_health_repeats *repeats)
{
    free(repeats);
}

/* Multiplicative hashing (Knuth, The Art of Computer Programming 3, section 6.4) with 2^64 over the golden ratio. */
LDS_HOT static void hash_samples(const double *x, size_t n, uint32_t *hash)
{
    for (size_t i = 0; i < n; i++) {
        uint64_t bits;
        memcpy(&bits, x + i, sizeof bits);
        hash[i] = (uint32_t)((bits * UINT64_C(0x9e3779b97f4a7c15)) >> 32);
    }
}

static uint32_t hash_at(const struct lds_health_repeats *repeats, int64_t sample)
{
    return repeats->hash[sample - repeats->first];
}

static int64_t held_end(const struct lds_health_repeats *repeats)
{
    return repeats->first + (int64_t)repeats->count;
}

static void append(struct lds_health_repeats *repeats, const struct lds_health_block *block)
{
    size_t fresh = (size_t)(block->start + (int64_t)(block->n + block->ahead) - held_end(repeats));
    if (repeats->count + fresh > ROOM) {
        int64_t keep_from = block->start - KEEP;
        size_t drop = (size_t)(keep_from - repeats->first);
        memmove(repeats->hash, repeats->hash + drop, (repeats->count - drop) * sizeof *repeats->hash);
        repeats->first = keep_from;
        repeats->count -= drop;
    }
    const double *x = block->x + (held_end(repeats) - block->start);
    hash_samples(x, fresh, repeats->hash + repeats->count);
    repeats->count += fresh;
}

/* Polynomial hash of the 8 samples that end at hash[i], for n of them, by doubling: pairs, pairs of pairs, ... */
LDS_HOT static void hash_windows(const uint32_t *hash, size_t n, uint32_t *key)
{
    const uint32_t factor = 0x9e3779b1u, factor2 = factor * factor, factor4 = factor2 * factor2;
    uint32_t two[LDS_HEALTH_BLOCK + WINDOW], four[LDS_HEALTH_BLOCK + WINDOW];
    const uint32_t *from = hash - (WINDOW - 1);
    for (size_t i = 1; i < n + WINDOW - 1; i++)
        two[i] = from[i - 1] * factor + from[i];
    for (size_t i = 3; i < n + WINDOW - 1; i++)
        four[i] = two[i - 2] * factor2 + two[i];
    for (size_t i = 0; i < n; i++) {
        uint32_t eight = four[i + 3] * factor4 + four[i + 7];
        key[i] = eight ^ eight >> 15;
    }
}

/* Keys of the held samples [from, from + n). Those of the first 7 samples of a capture match nothing. */
static void make_keys(struct lds_health_repeats *repeats, int64_t from, size_t n)
{
    size_t skip = from - repeats->first < WINDOW - 1 ? WINDOW - 1 : 0;
    if (skip > n)
        skip = n;
    memset(repeats->key, 0, skip * sizeof *repeats->key);
    hash_windows(repeats->hash + (from - repeats->first) + skip, n - skip, repeats->key + skip);
}

static bool changes_at(const struct lds_health_repeats *repeats, int64_t i)
{
    return i > repeats->first && hash_at(repeats, i) != hash_at(repeats, i - 1);
}

/* Counts changes in [from, to), and those that are equal one lag earlier: how often chance, or a period of the signal
 * itself, gives the same. */
static void count_around(struct lds_health_repeats *repeats, int64_t from, int64_t to)
{
    if (from < repeats->first + repeats->lag)
        from = repeats->first + repeats->lag;
    if (to > held_end(repeats))
        to = held_end(repeats);
    for (int64_t i = from; i < to; i++)
        if (changes_at(repeats, i)) {
            repeats->around++;
            repeats->around_equal += hash_at(repeats, i) == hash_at(repeats, i - repeats->lag);
        }
}

static int64_t count_changes(const struct lds_health_repeats *repeats, int64_t from, int64_t to)
{
    int64_t changes = 0;
    for (int64_t i = from; i < to; i++)
        changes += changes_at(repeats, i);
    return changes;
}

static void judge(struct lds_health_repeats *repeats, int64_t end)
{
    int64_t length = end - repeats->start;
    repeats->open = false;
    if (length < repeats->lag || length > PERIODS_MAX * repeats->lag || repeats->changes < CHANGES_MIN)
        return;
    count_around(repeats, end, end + CONTEXT);
    if (repeats->around < CONTEXT_CHANGES_MIN)
        return;
    double chance = (double)(repeats->around_equal + 1) / (double)(repeats->around + 2);
    if (chance <= 0.5 && -(double)repeats->changes * log(chance) > sure)
        lds_fault_add(&repeats->list, repeats->start, length);
}

/* Where equality at the lag ends, but not beyond block_end. */
static int64_t follow(const struct lds_health_repeats *repeats, int64_t lag, int64_t from, int64_t block_end)
{
    int64_t i = from;
    const uint32_t *now = repeats->hash + (from - repeats->first), *then = now - lag;
    while (i < block_end && *now++ == *then++)
        i++;
    return i;
}

static int64_t follow_open(struct lds_health_repeats *repeats, int64_t from, int64_t block_end)
{
    int64_t end = follow(repeats, repeats->lag, from, block_end);
    repeats->changes += count_changes(repeats, from, end);
    if (end < block_end)
        judge(repeats, end);
    return end;
}

/* Compares the samples around i with those around the last sample of the same key. Returns the sample to continue
 * from. */
static int64_t try_place(struct lds_health_repeats *repeats, uint32_t place, int64_t i, int64_t block_end)
{
    int64_t lag = (int64_t)(uint16_t)((uint32_t)i - place);
    if (lag < LAG_MIN || lag > LAG_MAX || i - lag <= repeats->first || !changes_at(repeats, i) ||
        hash_at(repeats, i) != hash_at(repeats, i - lag))
        return i + 1;
    int64_t end = follow(repeats, lag, i, block_end), start = i;
    while (start - lag > repeats->first && hash_at(repeats, start - 1) == hash_at(repeats, start - 1 - lag))
        start--;
    if (end < block_end && end - start < lag) {
        repeats->tries++;
        return i + 1;
    }
    repeats->open = true;
    repeats->start = start;
    repeats->lag = lag;
    repeats->changes = count_changes(repeats, start, i);
    repeats->around = repeats->around_equal = 0;
    count_around(repeats, start - CONTEXT, start);
    return follow_open(repeats, i, block_end);
}

static void search(struct lds_health_repeats *repeats, int64_t start, int64_t end)
{
    int64_t next = repeats->open ? follow_open(repeats, start, end) : start;
    for (int64_t group = start; group < end; group += STRIDE) {
        const uint32_t *key = repeats->key + (group - start);
        if (group >= next && repeats->tries < TRIES_MAX)
            next = try_place(repeats, repeats->place[key[0] >> (32 - PLACE_BITS)], group, end);
        for (int k = 0; k < STRIDE; k++)
            repeats->place[key[k] >> (32 - PLACE_BITS)] = (uint16_t)(group + k);
    }
}

void lds_health_repeats_block(struct lds_health_repeats *repeats, const struct lds_health_block *block)
{
    append(repeats, block);
    make_keys(repeats, block->start, block->n);
    repeats->tries = 0;
    search(repeats, block->start, block->start + (int64_t)block->n);
}

const struct lds_fault_list *lds_health_repeats_finish(struct lds_health_repeats *repeats)
{
    if (repeats->open)
        judge(repeats, held_end(repeats));
    return &repeats->list;
}
