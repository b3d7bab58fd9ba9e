/* What a search found, held against brute force. */
#include "search_rows.h"
#include "search/front.h"
#include "search/surrogate.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MORE 1.1 /* the corner lies so far beyond the best front's own, of its span */

static const int looks[] = {40, 60, 80, 100, 140, 200, 300, 500, 1000, 2000, 5000, 10000};

struct judge {
  const struct ew_search_question *question;
  int goals, wishes;
  double corner[EW_GOALS_MOST];
  double whole; /* volume of the front of all, or the best of all where one thing is wanted */
};

static const struct ew_search_wish *wish_at(const struct judge *j, int k) {
  return &g_array_index(j->question->wishes, struct ew_search_wish, k);
}

static gboolean within(const struct judge *j, const double *figure) {
  gboolean good = TRUE;
  for (int k = 0; k < j->wishes; k++)
    good &= figure[k] >= wish_at(j, k)->least && figure[k] <= wish_at(j, k)->most;
  return good;
}

/* Goals of the first n rows, turned so that less is better; how many are within. */
static int goals_of(const struct judge *j, const struct rows *r, int n, double *turned) {
  int count = 0;
  for (int i = 0; i < MIN(n, r->count); i++) {
    const double *figure = r->figure + i * r->wishes;
    if (!r->sound[i] || !within(j, figure))
      continue;
    for (int g = 0; g < j->goals; g++)
      turned[count * j->goals + g] = wish_at(j, g)->more ? -figure[g] : figure[g];
    count++;
  }
  return count;
}

/* Of the front alone: its volume is a small part of the work then. */
static int front_of(const struct judge *j, double *turned, int n) {
  g_autofree gboolean *member = g_new0(gboolean, MAX(n, 1));
  int count = 0;
  ew_front_of(turned, NULL, n, j->goals, member);
  for (int i = 0; i < n; i++)
    if (member[i])
      memmove(turned + count++ * j->goals, turned + i * j->goals, sizeof(double) * (gsize)j->goals);
  return count;
}

/* Volume beyond the corner, or the best where one thing is wanted (NaN: none is within the limits). */
static double worth(const struct judge *j, const struct rows *r, int n) {
  g_autofree double *turned = g_new(double, (gsize)MAX(r->count, 1) * (gsize)j->goals);
  int count = goals_of(j, r, n, turned);
  if (j->goals > 1)
    return ew_front_volume(turned, front_of(j, turned, count), j->goals, j->corner);
  double best = NAN;
  for (int i = 0; i < count; i++)
    best = fmin(best, turned[i]);
  return best;
}

/* The corner and the volume of all that any found: the nearest to the truth that there is. */
static void look_at_all(struct judge *j, const struct rows *r, int files) {
  int n = 0, count = 0;
  for (int f = 0; f < files; f++)
    n += r[f].count;
  g_autofree double *turned = g_new(double, (gsize)MAX(n, 1) * (gsize)j->goals);
  for (int f = 0; f < files; f++)
    count += goals_of(j, &r[f], r[f].count, turned + count * j->goals);
  printf("brute force and searches: %d designs, %d within the limits", n, count);
  count = front_of(j, turned, count);
  printf(", front of %d\n", count);
  for (int g = 0; g < j->goals; g++) {
    double low = INFINITY, high = -INFINITY;
    for (int i = 0; i < count; i++) {
      low = fmin(low, turned[i * j->goals + g]);
      high = fmax(high, turned[i * j->goals + g]);
    }
    j->corner[g] = low + MORE * (high - low);
  }
  j->whole = j->goals > 1 ? ew_front_volume(turned, count, j->goals, j->corner) : turned[0];
}

static void say_worth(const struct judge *j, const char *name, const struct rows *r) {
  printf("%s:", name);
  for (gsize i = 0; i < G_N_ELEMENTS(looks) && looks[i] <= r->count; i++) {
    double w = worth(j, r, looks[i]);
    printf("  %d %.4g", looks[i], j->goals > 1 ? w / j->whole : w - j->whole);
  }
  printf("\n");
}

/* ---- bands ---- */

/* Learned from the first n designs of a search, asked about every design of the grid. */
static void say_band(const struct judge *j, const struct rows *r, const struct rows *grid, int n,
                     int k) {
  g_autofree double *x = g_new(double, (gsize)n *(gsize)r->axes), *y = g_new(double, n);
  int rows = 0, seen = 0, inside = 0;
  double error2 = 0, sum = 0, square = 0;
  for (int i = 0; i < n; i++)
    if (r->sound[i]) {
      memcpy(x + rows * r->axes, r->point + i * r->axes, sizeof(double) * (gsize)r->axes);
      y[rows++] = r->figure[i * r->wishes + k];
    }
  g_autoptr(ew_surrogate) learned = ew_surrogate_new(x, y, rows, r->axes, NULL, NULL);
  int even = 0;
  for (int i = 0; i < n && r->round[i] == 0; i++)
    even += r->sound[i];
  if (learned)
    ew_surrogate_weigh(learned, even);
  for (int i = 0; learned && i < grid->count; i++) {
    const double *point = grid->point + i * grid->axes;
    double truth = grid->figure[i * grid->wishes + k];
    if (!grid->sound[i])
      continue;
    double off = truth - ew_surrogate_mean(learned, point);
    inside += fabs(off) <= 1.959964 * ew_surrogate_told(learned, point);
    error2 += off * off;
    sum += truth;
    square += truth * truth;
    seen++;
  }
  if (seen > 1)
    printf(
        "  %s from %d: %.1f %% of %d in the 95 %% band, R2 %.4f, error %.3g of a spread of %.3g\n",
        ew_search_figures[wish_at(j, k)->what].key, n, 100.0 * inside / seen, seen,
        1 - error2 / (square - sum * sum / seen), sqrt(error2 / seen),
        sqrt((square - sum * sum / seen) / (seen - 1)));
}

static int even_ones(const struct rows *r) {
  int n = 0;
  while (n < r->count && r->round[n] == 0)
    n++;
  return n;
}

int rows_judge(const struct ew_search_question *question, char **path, int paths) {
  struct judge j = {question, question->wanted, (int)question->wishes->len, {0}, 0};
  g_autofree struct rows *r = g_new0(struct rows, paths);
  for (int f = 0; f < paths; f++) {
    rows_read(path[f], (int)question->axes->len, j.wishes, &r[f]);
    if (r[f].count == 0) {
      fprintf(stderr, "%s: no rows\n", path[f]);
      return 2;
    }
  }
  look_at_all(&j, r, paths);
  for (int f = 0; f < paths; f++)
    say_worth(&j, f == 0 ? "even designs" : path[f], &r[f]);
  for (int f = 1; f < paths; f++) {
    printf("bands, %s\n", path[f]);
    for (int k = 0; k < j.wishes; k++) {
      say_band(&j, &r[f], &r[0], even_ones(&r[f]), k);
      say_band(&j, &r[f], &r[0], r[f].count, k);
    }
  }
  for (int f = 0; f < paths; f++)
    rows_clear(&r[f]);
  return 0;
}

/* ---- two grids of the same designs ---- */

struct ranked {
  const double *value;
  int at;
};
static int by_value(const void *a, const void *b) {
  double x = *((const struct ranked *)a)->value, y = *((const struct ranked *)b)->value;
  return (x > y) - (x < y);
}

static void ranks_of(const double *value, int n, double *rank) {
  g_autofree struct ranked *order = g_new(struct ranked, n);
  for (int i = 0; i < n; i++)
    order[i] = (struct ranked){value + i, i};
  qsort(order, (size_t)n, sizeof *order, by_value);
  for (int i = 0; i < n; i++)
    rank[order[i].at] = i;
}

/* Ties have ranks of their own: figures of runs have none. */
static void say_compared(const char *name, const double *x, const double *y, int n) {
  g_autofree double *a = g_new(double, n), *b = g_new(double, n);
  double off = 0, worst = 0, mean = 0, square = 0;
  ranks_of(x, n, a);
  ranks_of(y, n, b);
  for (int i = 0; i < n; i++) {
    off += (a[i] - b[i]) * (a[i] - b[i]);
    worst = fmax(worst, fabs(x[i] / y[i] - 1));
    mean += (x[i] / y[i] - 1) / n;
  }
  for (int i = 0; i < n; i++)
    square += (x[i] / y[i] - 1 - mean) * (x[i] / y[i] - 1 - mean) / n;
  printf("  %s: %d designs, correlation of ranks %.5f, worst %.2e, mean %.2e, spread about the "
         "mean %.2e\n",
         name, n, 1 - 6 * off / ((double)n * ((double)n * n - 1)), worst, mean, sqrt(square));
}

int rows_compare(const struct ew_search_question *question, char **path) {
  int wishes = (int)question->wishes->len, axes = (int)question->axes->len;
  struct rows a, b;
  rows_read(path[0], axes, wishes, &a);
  rows_read(path[1], axes, wishes, &b);
  int n = MIN(a.count, b.count);
  printf("%s against %s\n", path[0], path[1]);
  for (int k = 0; k < wishes; k++) {
    g_autofree double *x = g_new(double, MAX(n, 1)), *y = g_new(double, MAX(n, 1));
    int both = 0;
    for (int i = 0; i < n; i++)
      if (a.sound[i] && b.sound[i]) {
        x[both] = a.figure[i * wishes + k];
        y[both++] = b.figure[i * wishes + k];
      }
    if (both > 1)
      say_compared(
          ew_search_figures[g_array_index(question->wishes, struct ew_search_wish, k).what].key, x,
          y, both);
  }
  rows_clear(&a);
  rows_clear(&b);
  return 0;
}
