/* Blocks that stand in the capture twice in a row: what a driver leaves that missed a buffer and gave the last one
 * again.
 *
 * Block [s, s + r) repeats the r >= lag samples before it when x[i] = x[i - lag] all through it. Every 16th sample (an
 * anchor) is kept in a table; every sample asks a bit map whether one like it is there, and the few that are told yes
 * are compared in full. Samples are compared by 32 bits of a hash of theirs: 16 equal ones in a row by chance are
 * 2^-512. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/health_parts.h"
#include "spectrum/simd.h"

enum {
    LAG_MIN = 16,
    LAG_MAX = 8192,
    STRIDE = 16, /* between anchors, and the width of the window hash */
    CONTEXT = LDS_HEALTH_AROUND,
    KEEP = LAG_MAX + 2 * CONTEXT, /* samples kept behind a block */
    ROOM = KEEP + 8 * LDS_HEALTH_BLOCK + CONTEXT,
    MAP_BITS = 17,
    PLACE_BITS = 12,
    CLEAR_EVERY = 4,   /* blocks: anchors older than the longest lag are let go */
    TRIES_MAX = 64,    /* comparisons a block: more, and it has few different samples or repeats by nature */
    SINGLE_AGAIN = 32, /* blocks after which single samples are tried as anchors again */
    PERIODS_MAX = 64,  /* repeated more often than this it is a periodic signal */
    CHANGES_MIN = 8,
    CONTEXT_CHANGES_MIN = 32,
};

/* -ln of the probability by chance that makes a repeat sure: 8192 lags at each of 10^9 samples leave e^-15. */
static const double sure = 45.0;

struct lds_health_repeats {
    int64_t first; /* sample number of hash[0] */
    size_t count;  /* hashes held */
    uint32_t hash[ROOM];
    uint32_t key[LDS_HEALTH_BLOCK]; /* of the block: the hash of the sample, or of the window that ends there */
    uint64_t map[(1 << MAP_BITS) / 64];
    uint32_t place[1 << PLACE_BITS]; /* sample number (low 32 bits) of the newest anchor with that key */
    int blocks;
    int window_blocks; /* blocks still to be searched by windows, 0: by single samples */
    int tries;
    bool open; /* a run of equality reaches the end of the block */
    int64_t start, lag;
    int64_t changes;              /* samples of the run that differ from the one before */
    int64_t around, around_equal; /* changes about the run, and those that are equal at the same lag */
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

/* Polynomial hash of the 16 samples that end at each of the block's; before the capture, zeros. */
static void hash_windows(struct lds_health_repeats *repeats, const struct lds_health_block *block)
{
    const uint32_t factor = 0x9e3779b1u;
    uint32_t oldest_factor = 1, rolling = 0;
    for (int i = 0; i < STRIDE; i++)
        oldest_factor *= factor;
    for (int64_t i = block->start - STRIDE; i < block->start + (int64_t)block->n; i++) {
        uint32_t in = i >= repeats->first ? hash_at(repeats, i) : 0;
        uint32_t out =
            i - STRIDE >= block->start - STRIDE && i - STRIDE >= repeats->first ? hash_at(repeats, i - STRIDE) : 0;
        rolling = rolling * factor + in - out * oldest_factor;
        if (i >= block->start)
            repeats->key[i - block->start] = (rolling ^ rolling >> 15) * 0x85ebca6bu;
    }
}

static bool changes_at(const struct lds_health_repeats *repeats, int64_t i)
{
    return i > repeats->first && hash_at(repeats, i) != hash_at(repeats, i - 1);
}

/* Counts changes in [from, to), and those that are equal one lag before: how often chance, or a period of the signal
 * itself, does the same. */
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

/* Follows equality at the open run's lag from `from` to the end of the block at most. Returns where it ends. */
static int64_t follow(struct lds_health_repeats *repeats, int64_t from, int64_t block_end)
{
    int64_t i = from;
    const uint32_t *now = repeats->hash + (from - repeats->first), *then = now - repeats->lag;
    while (i < block_end && *now++ == *then++)
        i++;
    repeats->changes += count_changes(repeats, from, i);
    if (i < block_end)
        judge(repeats, i);
    return i;
}

/* Sample i looks like an anchor: compares the two in full. Returns the sample to go on from. */
static int64_t try_anchor(struct lds_health_repeats *repeats, uint32_t key, int64_t i, int64_t block_end)
{
    uint32_t place = repeats->place[key & ((1u << PLACE_BITS) - 1)];
    int64_t lag = (int64_t)(uint32_t)((uint32_t)i - place);
    if (lag < LAG_MIN || lag > LAG_MAX || i - lag <= repeats->first || !changes_at(repeats, i) ||
        hash_at(repeats, i) != hash_at(repeats, i - lag))
        return i + 1;
    if (repeats->tries++ >= TRIES_MAX)
        return i + 1;
    int64_t start = i;
    while (start - lag > repeats->first && hash_at(repeats, start - 1) == hash_at(repeats, start - 1 - lag))
        start--;
    repeats->open = true;
    repeats->start = start;
    repeats->lag = lag;
    repeats->changes = count_changes(repeats, start, i);
    repeats->around = repeats->around_equal = 0;
    count_around(repeats, start - CONTEXT, start);
    return follow(repeats, i, block_end);
}

static bool in_map(const struct lds_health_repeats *repeats, uint32_t key)
{
    uint32_t bit = key >> (32 - MAP_BITS);
    return repeats->map[bit >> 6] >> (bit & 63) & 1;
}

static void add_anchor(struct lds_health_repeats *repeats, uint32_t key, int64_t i)
{
    if (!changes_at(repeats, i))
        return;
    uint32_t bit = key >> (32 - MAP_BITS);
    repeats->map[bit >> 6] |= UINT64_C(1) << (bit & 63);
    repeats->place[key & ((1u << PLACE_BITS) - 1)] = (uint32_t)i;
}

/* Whether any of 16 keys may be an anchor's. */
static bool any_in_map(const struct lds_health_repeats *repeats, const uint32_t *key)
{
    uint64_t any = 0;
    for (int k = 0; k < STRIDE; k++) {
        uint32_t bit = key[k] >> (32 - MAP_BITS);
        any |= repeats->map[bit >> 6] >> (bit & 63);
    }
    return any & 1;
}

static void search(struct lds_health_repeats *repeats, const uint32_t *key, int64_t start, int64_t end)
{
    int64_t next = repeats->open ? follow(repeats, start, end) : start;
    for (int64_t group = start; group < end; group += STRIDE) {
        int64_t group_end = group + STRIDE < end ? group + STRIDE : end;
        bool look = group_end > next && repeats->tries <= TRIES_MAX;
        if (look && group_end - group == STRIDE)
            look = any_in_map(repeats, key + (group - start));
        for (int64_t i = next > group ? next : group; look && i < group_end;)
            i = next = in_map(repeats, key[i - start]) ? try_anchor(repeats, key[i - start], i, end) : i + 1;
        add_anchor(repeats, key[group - start], group);
    }
}

static void clear_anchors(struct lds_health_repeats *repeats)
{
    memset(repeats->map, 0, sizeof repeats->map);
}

/* Puts the anchors of the last LAG_MAX samples back into an emptied map. Only single samples can be: windows start
 * anew. */
static void renew_anchors(struct lds_health_repeats *repeats, int64_t start)
{
    clear_anchors(repeats);
    if (repeats->window_blocks > 0)
        return;
    int64_t from = start - LAG_MAX;
    if (from < repeats->first)
        from = (repeats->first + STRIDE - 1) / STRIDE * STRIDE;
    for (int64_t i = from; i < start; i += STRIDE)
        add_anchor(repeats, hash_at(repeats, i), i);
}

void lds_health_repeats_block(struct lds_health_repeats *repeats, const struct lds_health_block *block)
{
    append(repeats, block);
    const uint32_t *key = repeats->hash + (block->start - repeats->first);
    bool windows = repeats->window_blocks > 0;
    if (windows) {
        hash_windows(repeats, block);
        key = repeats->key;
    }
    int every = windows ? 4 * CLEAR_EVERY : CLEAR_EVERY;
    if (repeats->blocks++ % every == 0)
        renew_anchors(repeats, block->start);
    repeats->tries = 0;
    search(repeats, key, block->start, block->start + (int64_t)block->n);
    if (windows && --repeats->window_blocks == 0)
        renew_anchors(repeats, block->start);
    if (!windows && repeats->tries > TRIES_MAX) {
        repeats->window_blocks = SINGLE_AGAIN;
        clear_anchors(repeats);
    }
}

const struct lds_fault_list *lds_health_repeats_finish(struct lds_health_repeats *repeats)
{
    if (repeats->open)
        judge(repeats, held_end(repeats));
    return &repeats->list;
}
