/* Optimal string alignment (restricted Damerau-Levenshtein), three rows kept. */
#include "base/suggest.h"
#include <string.h>

#define COMPARED_MOST ((gsize)64)

guint ew_edit_distance(const char *a, const char *b) {
  gsize m = MIN(strlen(a), COMPARED_MOST), n = MIN(strlen(b), COMPARED_MOST);
  guint rows[3][66];
  for (gsize j = 0; j <= n; j++)
    rows[0][j] = (guint)j;
  for (gsize i = 1; i <= m; i++) {
    guint *now = rows[i % 3], *last = rows[(i + 2) % 3], *before = rows[(i + 1) % 3];
    now[0] = (guint)i;
    for (gsize j = 1; j <= n; j++) {
      char x = g_ascii_tolower(a[i - 1]), y = g_ascii_tolower(b[j - 1]);
      now[j] = MIN(MIN(now[j - 1], last[j]) + 1, last[j - 1] + (x != y));
      if (i > 1 && j > 1 && x == g_ascii_tolower(b[j - 2]) && y == g_ascii_tolower(a[i - 2]))
        now[j] = MIN(now[j], before[j - 2] + 1);
    }
  }
  return rows[m % 3][n];
}

const char *ew_suggest(const char *word, const char *const *words, gsize count) {
  const char *best = NULL;
  gsize size = MIN(strlen(word), COMPARED_MOST);
  guint least = (guint)size / 3 + 2; /* of what is compared: a page of rubbish is near nothing */
  for (gsize i = 0; i < count; i++) {
    gsize other = MIN(strlen(words[i]), COMPARED_MOST);
    if (MAX(size, other) - MIN(size, other) >= least)
      continue; /* at least as far apart as their lengths */
    guint distance = ew_edit_distance(word, words[i]);
    if (distance < least) {
      least = distance;
      best = words[i];
    }
  }
  return best;
}
