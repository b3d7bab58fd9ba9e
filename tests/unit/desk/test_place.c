/* The place of a pull among those of its engine, whatever the order in which the files come: the same runs and mountings as in the
 * order of time, which is what desk/place.h promises; and desk/amend_place.h of a pull whose time or engine was told wrongly. */
#include "base/zone.h"
#include "desk/amend_place.h"
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

static const char *day_of(int minute) {
  return minute < 600 ? "2026-09-21" : "2026-09-22";
}

static void add(GArray *rows, const struct made *m, gint64 id) {
  struct ew_place_ask ask = {.rows = rows,
                             .engine_id = m->engine,
                             .unix_s = START + 60 * m->minute,
                             .day = day_of(m->minute),
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
                            .recording_id = id,
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

/* ---- amended ---- */

static struct ew_amend_rows read_as_amended(GArray *rows) {
  struct ew_amend_rows r = {g_array_ref(rows), g_array_new(FALSE, FALSE, sizeof(double))};
  for (guint i = 0; i < rows->len; i++) {
    double at = ew_instant(g_array_index(rows, struct ew_pull_row, i).at);
    g_array_append_val(r.at_s, at);
  }
  return r;
}

/* Pull `id` ran at another minute, of this engine; `back`: as it was before, or NULL. What it was is left in *former. */
static void amend(GArray *rows, gint64 id, int minute, gint64 engine,
                  const struct ew_pull_row *back, struct ew_pull_row *former) {
  struct ew_amend_rows r = read_as_amended(rows);
  struct ew_pull_row *row = of_id(rows, id);
  struct ew_amend_put ask = {.was = row,
                             .back = back,
                             .engine_id = engine,
                             .unix_s = START + 60 * minute,
                             .day = day_of(minute)};
  struct ew_amend_placed placed;
  ew_amend_place(&r, &ask, &placed);
  if (former)
    *former = (struct ew_pull_row){
        .run = row->run, .mounting = row->mounting, .engine_id = row->engine_id};
  g_free(row->at);
  g_free(row->day);
  row->at = ew_instant_write(ask.unix_s);
  row->day = g_strdup(ask.day);
  row->engine_id = engine;
  row->run = placed.run;
  row->mounting = placed.mounting;
  ew_amend_rows_move(&r, placed.moved);
  g_array_unref(placed.moved);
  ew_amend_rows_clear(&r);
  g_array_sort(rows, by_time);
}

#define MANY 14

/* Two engines over two days, the first of each on each day without a stop, and never amended: that the engine was stopped before the
 * first of a day cannot be known. */
static void draw_pulls(GRand *chance, struct made *pulls) {
  for (int i = 0; i < MANY; i++) {
    gboolean first = i < 4;
    pulls[i] = (struct made){1 + i % 2, i < 2 ? 0 : i < 4 ? 600 : 0, FALSE, FALSE};
    if (first)
      continue;
    pulls[i].engine = g_rand_int_range(chance, 1, 3);
    pulls[i].minute = (i % 2 ? 600 : 0) + 20 * i + g_rand_int_range(chance, 1, 19);
    pulls[i].stopped = g_rand_int_range(chance, 0, 3) == 0;
    pulls[i].remounted = g_rand_int_range(chance, 0, 5) == 0;
  }
}

static GArray *added(const struct made *pulls) {
  GArray *rows = no_rows();
  for (int i = 0; i < MANY; i++)
    add(rows, &pulls[i], i + 1);
  return rows;
}

/* Of one engine, in the order of time. */
static char *groups_of_engine(const GArray *rows, gint64 engine) {
  g_autoptr(GArray) own = g_array_new(FALSE, FALSE, sizeof(struct ew_pull_row)); /* borrowed */
  for (guint i = 0; i < rows->len; i++)
    if (g_array_index(rows, struct ew_pull_row, i).engine_id == engine)
      g_array_append_vals(own, &g_array_index(rows, struct ew_pull_row, i), 1);
  return groups_of(own);
}

static char *numbers_of(const GArray *rows) {
  GString *text = g_string_new(NULL);
  for (gint64 id = 1; id <= MANY; id++) {
    const struct ew_pull_row *row = of_id((GArray *)(gsize)rows, id);
    g_string_append_printf(text, "%d.%d ", row->run, row->mounting);
  }
  return g_string_free(text, FALSE);
}

/* Whichever pull gets another time or another engine: runs and mountings are those of pulls that were told so from the start; and taken
 * back, every number is what it was. The order in which places were amended does not show. */
static void amended(void **state) {
  (void)state;
  g_autoptr(GRand) chance = g_rand_new_with_seed(20261201);
  for (int trial = 0; trial < 3000; trial++) {
    struct made pulls[MANY];
    draw_pulls(chance, pulls);
    g_autoptr(GArray) rows = added(pulls);
    for (int again = 0; again < 3; again++) {
      int which = g_rand_int_range(chance, 4, MANY);
      struct made was = pulls[which];
      pulls[which].minute =
          g_rand_int_range(chance, 0, 2) * 600 + 20 * which + g_rand_int_range(chance, 1, 19);
      pulls[which].engine = g_rand_int_range(chance, 0, 4) ? was.engine : 3 - was.engine;
      g_autofree char *before = numbers_of(rows);
      struct ew_pull_row former;
      amend(rows, which + 1, pulls[which].minute, pulls[which].engine, NULL, &former);
      g_autoptr(GArray) plain = added(pulls);
      for (gint64 engine = 1; engine <= 2; engine++) {
        g_autofree char *seen = groups_of_engine(rows, engine),
                        *want = groups_of_engine(plain, engine);
        expect(strcmp(seen, want) == 0, "amended as if it had been told so",
               "trial %d, engine %d: %s, wanted %s", trial, (int)engine, seen, want);
      }
      if (g_rand_boolean(chance))
        continue;
      amend(rows, which + 1, was.minute, was.engine, &former, NULL);
      pulls[which] = was;
      g_autofree char *after = numbers_of(rows);
      expect(strcmp(before, after) == 0, "taken back", "trial %d: %s, were %s", trial, after,
             before);
    }
  }
}

/* By hand: 12:00 | stop 12:20, 12:40. The stop goes with the one that told it, and those after it go on with the run before. */
static void by_hand(void **state) {
  (void)state;
  g_autoptr(GArray) rows = no_rows();
  add(rows, &(struct made){1, 0, FALSE, FALSE}, 1);
  add(rows, &(struct made){1, 20, TRUE, TRUE}, 2);
  add(rows, &(struct made){1, 40, FALSE, FALSE}, 3);
  struct ew_pull_row former;
  amend(rows, 2, 60, 1, NULL, &former);
  expect(of_id(rows, 3)->run == 1 && of_id(rows, 3)->mounting == 1, "the one after it goes on",
         "%d.%d", of_id(rows, 3)->run, of_id(rows, 3)->mounting);
  expect(of_id(rows, 2)->run != 1 && of_id(rows, 2)->mounting == 2, "it still began a mounting",
         "%d.%d", of_id(rows, 2)->run, of_id(rows, 2)->mounting);
  amend(rows, 2, 20, 1, &former, NULL);
  expect(of_id(rows, 3)->run == 2 && of_id(rows, 3)->mounting == 2 && of_id(rows, 2)->run == 2,
         "taken back", "%d.%d", of_id(rows, 3)->run, of_id(rows, 3)->mounting);
  amend(rows, 1, 60, 1, NULL, &former); /* the first of the day leaves it */
  expect(of_id(rows, 1)->run == 2 && of_id(rows, 2)->run == 2, "no stop is between them", "%d",
         of_id(rows, 1)->run);
  amend(rows, 1, 0, 1, &former, NULL);
  expect(of_id(rows, 1)->run == 1 && of_id(rows, 1)->mounting == 1,
         "taken back, a stop is after it", "%d.%d", of_id(rows, 1)->run, of_id(rows, 1)->mounting);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(any_order), cmocka_unit_test(others_stay),
                                     cmocka_unit_test(odd_times), cmocka_unit_test(by_hand),
                                     cmocka_unit_test(amended)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
