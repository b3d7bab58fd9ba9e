/* Dominance, ranks, crowding and hypervolume: the sources are in the header. */
#include "search/front.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* NaN counts as worse than anything. */
static double placed(double figure) {
  return isnan(figure) ? INFINITY : figure;
}

gboolean ew_dominates(const double *a, double a_worse, const double *b, double b_worse, int goals) {
  a_worse = placed(a_worse);
  b_worse = placed(b_worse);
  if (a_worse > 0 || b_worse > 0)
    return a_worse < b_worse;
  gboolean better = FALSE;
  for (int g = 0; g < goals; g++) {
    if (placed(a[g]) > placed(b[g]))
      return FALSE;
    better |= placed(a[g]) < placed(b[g]);
  }
  return better;
}

void ew_front_ranks(const double *figures, const double *worse, int n, int goals, int *rank) {
  g_autofree int *beaten = g_new0(int, MAX(n, 1));
  g_autofree gboolean *within = g_new0(gboolean, (gsize)MAX(n, 1) * (gsize)MAX(n, 1));
  for (int i = 0; i < n; i++)
    for (int j = 0; j < n; j++)
      if (ew_dominates(figures + i * goals, worse ? worse[i] : 0, figures + j * goals,
                       worse ? worse[j] : 0, goals)) {
        within[(gsize)i * (gsize)n + (gsize)j] = TRUE;
        beaten[j]++;
      }
  int left = n;
  for (int i = 0; i < n; i++)
    rank[i] = -1;
  for (int now = 0; left > 0; now++) {
    g_autoptr(GArray) these = g_array_new(FALSE, FALSE, sizeof(int));
    for (int i = 0; i < n; i++)
      if (rank[i] < 0 && beaten[i] == 0)
        g_array_append_val(these, i);
    g_assert(these->len > 0); /* dominance has no circles */
    for (guint k = 0; k < these->len; k++) {
      int i = g_array_index(these, int, k);
      rank[i] = now;
      left--;
      for (int j = 0; j < n; j++)
        beaten[j] -= within[(gsize)i * (gsize)n + (gsize)j];
    }
  }
}

struct placed_at {
  double figure;
  int index;
};

static int by_figure(const void *a, const void *b) {
  const struct placed_at *x = a, *y = b;
  if (x->figure != y->figure)
    return x->figure < y->figure ? -1 : 1;
  return (x->index > y->index) - (x->index < y->index);
}

static void add_room(struct placed_at *line, int count, double *room) {
  qsort(line, (gsize)count, sizeof *line, by_figure);
  double span = line[count - 1].figure - line[0].figure;
  room[line[0].index] = room[line[count - 1].index] = INFINITY;
  for (int k = 1; k + 1 < count; k++)
    if (span > 0 && isfinite(span))
      room[line[k].index] += (line[k + 1].figure - line[k - 1].figure) / span;
}

void ew_front_room(const double *figures, const int *rank, int n, int goals, double *room) {
  g_autofree struct placed_at *line = g_new(struct placed_at, MAX(n, 1));
  int last = -1;
  for (int i = 0; i < n; i++) {
    room[i] = 0;
    last = MAX(last, rank[i]);
  }
  for (int r = 0; r <= last; r++)
    for (int g = 0; g < goals; g++) {
      int count = 0;
      for (int i = 0; i < n; i++)
        if (rank[i] == r)
          line[count++] = (struct placed_at){placed(figures[i * goals + g]), i};
      if (count > 0)
        add_room(line, count, room);
    }
}

/* Those beyond a limit come last and do not count, but for the nearest when nothing is within. */
int ew_front_of(const double *figures, const double *worse, int n, int goals, gboolean *member) {
  g_autofree struct placed_at *line = g_new(struct placed_at, MAX(n, 1));
  g_autofree int *front = g_new(int, MAX(n, 1));
  int count = 0;
  for (int i = 0; i < n; i++) {
    line[i] = (struct placed_at){placed(figures[i * goals]), i};
    member[i] = FALSE;
  }
  qsort(line, (gsize)n, sizeof *line, by_figure);
  for (int k = 0; k < n; k++) {
    int i = line[k].index, kept = 0;
    const double *own = figures + i * goals;
    double own_worse = worse ? worse[i] : 0;
    gboolean beaten = FALSE;
    for (int f = 0; f < count && !beaten; f++)
      beaten = ew_dominates(figures + front[f] * goals, worse ? worse[front[f]] : 0, own, own_worse,
                            goals);
    for (int f = 0; f < count && !beaten; f++)
      if (!ew_dominates(own, own_worse, figures + front[f] * goals, worse ? worse[front[f]] : 0,
                        goals))
        front[kept++] = front[f];
    if (!beaten) {
      front[kept++] = i;
      count = kept;
    }
  }
  for (int f = 0; f < count; f++)
    member[front[f]] = TRUE;
  return count;
}

/* ---- volume ---- */

struct point {
  double at[EW_GOALS_MOST];
};

static int by_goal(gconstpointer a, gconstpointer b, gpointer goal) {
  double x = ((const struct point *)a)->at[*(const int *)goal],
         y = ((const struct point *)b)->at[*(const int *)goal];
  return (x > y) - (x < y);
}

static void sort_by(struct point *points, int n, int goal) {
  g_qsort_with_data(points, n, sizeof *points, by_goal, &goal);
}

/* Slices along the last goal; each slice is a volume of one goal less of the points that reach into it. */
static double volume(const struct point *given, int n, int goals, const double *reference) {
  if (n == 0)
    return 0;
  if (goals == 1) {
    double best = given[0].at[0];
    for (int i = 1; i < n; i++)
      best = MIN(best, given[i].at[0]);
    return reference[0] - best;
  }
  g_autofree struct point *points = g_memdup2(given, sizeof *given * (gsize)n);
  sort_by(points, n, goals - 1);
  double sum = 0;
  for (int i = 0; i < n; i++) {
    double top = i + 1 < n ? points[i + 1].at[goals - 1] : reference[goals - 1];
    if (top > points[i].at[goals - 1])
      sum += (top - points[i].at[goals - 1]) * volume(points, i + 1, goals - 1, reference);
  }
  return sum;
}

/* Two goals by one pass along the sorted points. */
static double area(struct point *points, int n, const double *reference) {
  double sum = 0, low = reference[1];
  sort_by(points, n, 0);
  for (int i = 0; i < n; i++)
    if (points[i].at[1] < low) {
      sum += (reference[0] - points[i].at[0]) * (low - points[i].at[1]);
      low = points[i].at[1];
    }
  return sum;
}

double ew_front_volume(const double *figures, int n, int goals, const double *reference) {
  g_assert(goals >= 1 && goals <= EW_GOALS_MOST);
  g_autofree struct point *points = g_new(struct point, MAX(n, 1));
  int count = 0;
  for (int i = 0; i < n; i++) {
    gboolean inside = TRUE;
    for (int g = 0; g < goals; g++)
      inside &= figures[i * goals + g] < reference[g]; /* NaN is not */
    if (inside)
      memcpy(points[count++].at, figures + i * goals, sizeof(double) * (gsize)goals);
  }
  return goals == 2 ? area(points, count, reference) : volume(points, count, goals, reference);
}
