#include "judge/day_answer.h"
#include "unit.h"

static struct ew_day_pull pull_of(int setup, double per_cent) {
  return (struct ew_day_pull){.day = 1,
                              .setup = setup,
                              .spark_deg = NAN,
                              .covariate = {NAN, NAN, NAN, NAN},
                              .log_mean = 5 + per_cent / 100};
}

/* An earlier day of eight pulls. */
static struct ew_day_model *a_day(double drift) {
  static const double noise[] = {0.1, -0.2, 0.15, 0.2, -0.25, 0.05, -0.1, 0};
  struct ew_day_model *m = ew_day_model_new(&(struct ew_day_options){0});
  for (int i = 0; i < 8; i++) {
    struct ew_day_pull p = pull_of(i % 2, i % 2 + noise[i] + drift * i);
    assert_true(ew_day_model_add(m, &p));
  }
  ew_day_model_lend_history(m);
  return m;
}

#define PULLS 12

/* The long way: the whole day again with this pull as a set-up of its own. */
static double replayed(const struct ew_day_model *before, const struct ew_day_pull *pulls,
                       gsize apart) {
  g_autoptr(ew_day_model) m = ew_day_model_copy(before);
  for (gsize i = 0; i < PULLS; i++) {
    struct ew_day_pull p = pulls[i];
    p.setup = i == apart ? EW_DAY_SETUPS - 1 : p.setup;
    ew_day_model_add(m, &p);
  }
  struct ew_day_belief b = ew_day_model_believe(m, pulls[apart].setup, EW_DAY_SETUPS - 1);
  return fabs(b.mean) / b.sd;
}

/* Once there and once back gives what replaying the day for each pull gives. Exactly for pulls of A, whose shift and whose own set-up have one
 * prior; for B a set-up's prior lies about A and a shift's about B, which moves it by about (0.8 / 4) of its own deviation. Wherever the wrong
 * pull is, the first and the last included, after an earlier day, a stop and other set-ups. */
static void what_fits_nothing(void **state) {
  (void)state;
  static const double noise[PULLS] = {0.1,  -0.2, 0.15, 0.2, -0.25, 0.05,
                                      -0.1, 0.3,  0,    0.1, -0.1,  0.2};
  static const struct {
    const char *says, *setups;
    double within;
  } rows[] = {{"A alone has fellows", "000100200000", 0.002}, {"A and B", "010201020102", 0.2}};
  for (gsize r = 0; r < G_N_ELEMENTS(rows); r++)
    for (int wrong = -1; wrong < PULLS; wrong++) {
      struct ew_day_pull pulls[PULLS];
      g_autoptr(ew_day_model) before = a_day(0.05);
      for (int i = 0; i < PULLS; i++) {
        int setup = rows[r].setups[i] - '0';
        pulls[i] = pull_of(setup, noise[i] + 0.8 * (setup == 1) + (i == wrong ? -2.5 : 0));
        pulls[i].day = 2;
        pulls[i].rested = i == 5;
        pulls[i].covariate[EW_DAY_INLET] = 298 + i % 3;
      }
      gsize which = PULLS, long_way = PULLS;
      double most = 0, misfit = 0;
      g_autoptr(ew_day_answer) answer = ew_day_answer_new(before, pulls, PULLS);
      for (gsize i = 0; i < PULLS; i++)
        if (ew_day_answer_apart(answer, i) > misfit)
          misfit = ew_day_answer_apart(answer, i), which = i;
      for (gsize i = 0; i < PULLS; i++) {
        gboolean alone = pulls[i].setup > 1 || (r == 0 && pulls[i].setup == 1);
        double own = alone ? 0 : replayed(before, pulls, i);
        if (own > most)
          most = own, long_way = i;
      }
      expect_near(misfit, most, rows[r].within, rows[r].says);
      gboolean counts = wrong >= 0 && (pulls[wrong].setup == 0 || (r && pulls[wrong].setup == 1));
      if (counts)
        expect(misfit > 3 && which == (gsize)wrong && long_way == which, rows[r].says,
               "%g at %zu, not at %d", misfit, which, wrong);
    }
}

static const double noise[] = {0.1, -0.2, 0.15, 0.2, -0.25, 0.05, -0.1, 0.3, 0, 0.1, -0.1, 0.2};

/* Letters in their order, "A B": B is b % above; the pull `wrong` is off by `by` %. */
static struct ew_day_answer *answer_of(const char *order, double b, int wrong, double by) {
  g_autoptr(ew_day_model) before = a_day(0);
  struct ew_day_pull pulls[PULLS];
  gsize n = strlen(order);
  for (gsize i = 0; i < n; i++) {
    pulls[i] = pull_of(order[i] == 'B', noise[i] + (order[i] == 'B') * b);
    pulls[i].day = 2;
    pulls[i].log_mean += (int)i == wrong ? by / 100 : 0;
  }
  return ew_day_answer_new(before, pulls, n);
}

/* Asked for again only while nothing of that set-up ran after it; what then stands apart has lost its weight. */
static void asked_for_again(void **state) {
  (void)state;
  static const struct {
    const char *says, *order;
    int wrong;
    double by;
    int repeat; /* -1: none */
  } rows[] = {
      {"all are sound", "ABABAB", -1, 0, -1},
      {"the last B", "ABABAB", 5, -2.5, 5},
      {"the last A", "BABABA", 5, -2.5, 5},
      {"the last B, and A after it", "ABABABA", 5, -2.5, 5},
      {"a B in the middle: B ran again", "ABABABA", 3, -2.5, -1},
      {"the first A", "ABABAB", 0, 2.5, -1},
      {"B ran once: it has no fellow", "AAAB", 3, -2.5, -1},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    gsize n = strlen(rows[i].order);
    g_autoptr(ew_day_answer) a = answer_of(rows[i].order, 0, rows[i].wrong, rows[i].by);
    gsize repeat = ew_day_answer_repeat(a);
    expect(repeat == (rows[i].repeat < 0 ? n : (gsize)rows[i].repeat), rows[i].says, "%zu of %zu",
           repeat, n);
    double sum = 0;
    for (gsize k = 0; k < n; k++)
      sum += ew_day_answer_wrong(a, k);
    expect(sum >= 0 && sum <= 1 + 1e-9, rows[i].says, "chances of %g in all", sum);
    if (rows[i].wrong >= 0 && strlen(rows[i].order) > 4)
      expect(ew_day_answer_wrong(a, (gsize)rows[i].wrong) > 0.5, rows[i].says, "wrong with %g",
             ew_day_answer_wrong(a, (gsize)rows[i].wrong));
  }
}

/* One bad pull of B and nothing else: a bare model tells a loss, this one does not, and the more B's the less it moves. */
static void one_bad_pull_is_no_loss(void **state) {
  (void)state;
  static const char *const orders[] = {"AAABAB", "AAABABAB", "AAABABABAB"};
  double moved = INFINITY;
  for (gsize i = 0; i < G_N_ELEMENTS(orders); i++) {
    g_autoptr(ew_day_answer) sound = answer_of(orders[i], 0, -1, 0),
                             bad = answer_of(orders[i], 0, 3, -2.5);
    expect(ew_day_answer_below(bad, 0) < 0.995, orders[i], "a loss is sure by %g",
           ew_day_answer_below(bad, 0));
    double now = fabs(ew_day_answer_believe(bad).mean - ew_day_answer_believe(sound).mean);
    expect(now < moved, orders[i], "moved by %g, before by %g", now, moved);
    moved = now;
  }
  expect(moved < 0.001, "2.5 % off in one of four", "moves the answer by %g", moved);
}

/* A day that scatters three times as much is found out by its own pulls. */
static void rougher_today(void **state) {
  (void)state;
  g_autoptr(ew_day_model) before = a_day(0);
  struct ew_day_pull pulls[PULLS];
  double scatter[2];
  for (int rough = 0; rough < 2; rough++) {
    for (int i = 0; i < PULLS; i++) {
      pulls[i] = pull_of(i % 2, noise[i] * (rough ? 4 : 1));
      pulls[i].day = 2;
    }
    g_autoptr(ew_day_answer) a = ew_day_answer_new(before, pulls, PULLS);
    scatter[rough] = ew_day_answer_believe(a).scatter;
  }
  expect(scatter[1] > 2 * scatter[0], "rougher today", "%g after %g", scatter[1], scatter[0]);
}

/* No figure, no fellow, no pulls: figures stay figures, and nothing is asked for. */
static void little_is_known(void **state) {
  (void)state;
  g_autoptr(ew_day_model) before = a_day(0);
  struct ew_day_pull pulls[3] = {pull_of(0, 0), pull_of(1, NAN), pull_of(1, 0.5)};
  for (gsize n = 0; n <= 3; n++) {
    g_autoptr(ew_day_answer) a = ew_day_answer_new(before, pulls, n);
    struct ew_day_belief b = ew_day_answer_believe(a);
    expect(isfinite(b.mean) && b.sd > 0 && b.scatter > 0, "known", "%g ± %g", b.mean, b.sd);
    expect(ew_day_answer_repeat(a) == n, "nothing to run again", "%zu", ew_day_answer_repeat(a));
    for (gsize i = 0; i < n; i++)
      expect(isfinite(pulls[i].log_mean) || ew_day_answer_wrong(a, i) == 0, "no figure, not wrong",
             "%g", ew_day_answer_wrong(a, i));
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(what_fits_nothing), cmocka_unit_test(asked_for_again),
      cmocka_unit_test(one_bad_pull_is_no_loss), cmocka_unit_test(rougher_today),
      cmocka_unit_test(little_is_known)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
