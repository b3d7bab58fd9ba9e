/* The place of a pull among those of its engine, whatever the order in which the files come: the same runs and mountings as in the
 * order of time, which is what desk/place.h promises. */
#include "base/zone.h"
#include "desk/place.h"
#include "unit.h"

struct made {
  gint64 engine;
  int minute;
  gboolean stopped, remounted;
};

static GArray *no_rows(void) {
  GArray *rows = g_array_new(FALSE, FALSE, sizeof(struct ew_pull_row));
  g_array_set_clear_func(rows, (GDestroyNotify)ew_pull_row_clear);
  return rows;
}

static int by_time(gconstpointer a, gconstpointer b) {
  const struct ew_pull_row *p = a, *q = b;
  int order = strcmp(p->at, q->at);
  return order ? order : (p->id > q->id) - (p->id < q->id);
}

static struct ew_pull_row *of_id(GArray *rows, gint64 id) {
  for (guint i = 0; i < rows->len; i++)
    if (g_array_index(rows, struct ew_pull_row, i).id == id)
      return &g_array_index(rows, struct ew_pull_row, i);
  return NULL;
}

#define START 1.79e9

static void add(GArray *rows, const struct made *m, gint64 id) {
  struct ew_place_ask ask = {.rows = rows,
                             .engine_id = m->engine,
                             .unix_s = START + 60 * m->minute,
                             .day = m->minute < 600 ? "2026-09-21" : "2026-09-22",
                             .stopped = m->stopped,
                             .remounted = m->remounted};
  struct ew_run_place place;
  ew_place_find(&ask, &place);
  for (guint i = 0; i < place.moved->len; i++) {
    const struct ew_pull_place *moved = &g_array_index(place.moved, struct ew_pull_place, i);
    struct ew_pull_row *row = of_id(rows, moved->id);
    expect(row && row->engine_id == m->engine, "what moves is of this engine", "%d", m->minute);
    row->run = moved->run;
    row->mounting = moved->mounting;
  }
  struct ew_pull_row row = {.id = id,
                            .engine_id = m->engine,
                            .run = place.run,
                            .mounting = place.mounting,
                            .at = ew_instant_write(ask.unix_s),
                            .day = g_strdup(ask.day)};
  g_array_unref(place.moved);
  g_array_append_val(rows, row);
  g_array_sort(rows, by_time);
}

/* Which pulls share a run and which a mounting, as one text in the order of time: "0.0 0.0 1.0 ...". */
static char *groups_of(const GArray *rows) {
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    guint run = 0, mounting = 0;
    while (g_array_index(rows, struct ew_pull_row, run).run != row->run)
      run++;
    while (g_array_index(rows, struct ew_pull_row, mounting).mounting != row->mounting)
      mounting++;
    g_string_append_printf(text, "%u.%u ", run, mounting);
  }
  return g_string_free(text, FALSE);
}

#define PULLS 6
static const struct made day[PULLS] = {{1, 0, FALSE, FALSE}, {1, 10, FALSE, FALSE},
                                       {1, 20, TRUE, FALSE}, {1, 30, FALSE, FALSE},
                                       {1, 40, FALSE, TRUE}, {1, 50, FALSE, FALSE}};

/* Heap's algorithm (B. R. Heap, Computer Journal 6 (1963) 293): each order of all but the first, which begins the day. */
static void each_order(int *order, int n, void (*try)(const int *order, void *user), void *user) {
  if (n == 1) {
    try(order, user);
    return;
  }
  for (int i = 0; i < n; i++) {
    each_order(order, n - 1, try, user);
    int with = n % 2 ? 0 : i, keep = order[with];
    order[with] = order[n - 1];
    order[n - 1] = keep;
  }
}

struct trial {
  const char *want;
  int tried;
};

static void try_order(const int *order, void *user) {
  struct trial *t = user;
  g_autoptr(GArray) rows = no_rows();
  add(rows, &day[0], 1);
  for (int i = 0; i < PULLS - 1; i++)
    add(rows, &day[order[i]], i + 2);
  g_autofree char *seen = groups_of(rows);
  expect(strcmp(seen, t->want) == 0, "the groups of the order of time", "%s, wanted %s", seen,
         t->want);
  t->tried++;
}

static void any_order(void **state) {
  (void)state;
  struct trial t = {"0.0 0.0 2.0 2.0 4.4 4.4 ", 0}; /* by hand: stops at 20 and 40, off at 40 */
  int order[PULLS - 1] = {1, 2, 3, 4, 5};
  each_order(order, PULLS - 1, try_order, &t);
  assert_int_equal(t.tried, 120);
}

static void others_stay(void **state) {
  (void)state;
  g_autoptr(GArray) rows = no_rows();
  add(rows, &(struct made){1, 0, FALSE, FALSE}, 1);
  add(rows, &(struct made){2, 30, FALSE, FALSE}, 2);
  add(rows, &(struct made){1, 40, FALSE, FALSE}, 3);
  add(rows, &(struct made){1, 20, TRUE, TRUE}, 4);
  expect(of_id(rows, 2)->run == 1 && of_id(rows, 2)->mounting == 1,
         "another engine's pull between is left", "%d", of_id(rows, 2)->run);
  expect(of_id(rows, 3)->run == of_id(rows, 4)->run && of_id(rows, 3)->mounting == 2,
         "the later pull of the engine is moved", "%d", of_id(rows, 3)->run);
}

/* Equal instants: the one that is added later ran later. A book's pull whose time cannot be read is before nothing and after
 * nothing. */
static void odd_times(void **state) {
  (void)state;
  g_autoptr(GArray) rows = no_rows();
  add(rows, &(struct made){1, 0, FALSE, FALSE}, 1);
  add(rows, &(struct made){1, 0, TRUE, FALSE}, 2);
  expect(of_id(rows, 1)->run == 1 && of_id(rows, 2)->run == 2, "one instant", "%d", 0);
  g_free(of_id(rows, 2)->at);
  of_id(rows, 2)->at = g_strdup("yesterday");
  expect(ew_place_prior(rows, 1, START + 60)->id == 1, "an unreadable time", "%d", 0);
  expect(ew_place_prior(rows, 1, START - 60) == NULL, "before all", "%d", 0);
  expect(ew_place_prior(rows, 1, NAN) == NULL, "at no time", "%d", 0);
  add(rows, &(struct made){1, 700, FALSE, FALSE}, 3);
  expect(of_id(rows, 3)->run == 3, "another day begins a run", "%d", of_id(rows, 3)->run);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(any_order), cmocka_unit_test(others_stay),
                                     cmocka_unit_test(odd_times)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
