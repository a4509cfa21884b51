#include "loadside/quantity.h"

#include <ctype.h>
#include <string.h>

enum { WORD_MAX = 64 };

static int fold(char c)
{
    return tolower((unsigned char)c);
}

static int smaller(int a, int b)
{
    return a < b ? a : b;
}

/* Number of edits (a letter inserted, deleted or changed, or two neighbours swapped) between two words: the restricted
 * Damerau-Levenshtein distance (Damerau 1964, from memory). Letters past WORD_MAX are ignored. */
static int edits(const char *a, const char *b)
{
    int row[3][WORD_MAX + 1];
    int n = (int)strnlen(a, WORD_MAX), m = (int)strnlen(b, WORD_MAX);
    int *before = row[0], *last = row[1], *now = row[2];
    for (int j = 0; j <= m; j++)
        last[j] = before[j] = j;
    for (int i = 1; i <= n; i++) {
        now[0] = i;
        for (int j = 1; j <= m; j++) {
            int change = fold(a[i - 1]) != fold(b[j - 1]);
            now[j] = smaller(smaller(last[j] + 1, now[j - 1] + 1), last[j - 1] + change);
            if (i > 1 && j > 1 && fold(a[i - 1]) == fold(b[j - 2]) && fold(a[i - 2]) == fold(b[j - 1]))
                now[j] = smaller(now[j], before[j - 2] + 1);
        }
        int *spare = before;
        before = last;
        last = now;
        now = spare;
    }
    return last[m];
}

const char *lds_nearest(const char *word, const char *const *words, size_t count)
{
    const char *nearest = NULL;
    int length = (int)strnlen(word, WORD_MAX);
    int best = length / 2 + 1; /* a word that differs in more than half of its letters is not a misspelling */
    for (size_t i = 0; i < count; i++) {
        int distance = edits(word, words[i]);
        if (distance < best) {
            best = distance;
            nearest = words[i];
        }
    }
    return nearest;
}
