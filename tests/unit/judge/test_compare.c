/* The questions in their order: safe, valid, better, worth it. Curves come from recordings. */
#include "../pull/recording.h"
#include "judge/compare.h"
#include "said.h"

#define MOST 12
struct sides {
  struct ew_processed *processed[MOST];
  struct ew_setup setup[MOST];
  struct ew_compared_pull pulls[MOST];
  gsize count;
};

/* Pulls in the order of `order` ("ABAB"; H: history), with a share of torque for B. */
static struct sides *made(const char *order, double gain_b) {
  struct sides *s = g_new0(struct sides, 1);
  struct facts *f = facts_new();
  for (; order[s->count]; s->count++) {
    gsize i = s->count;
    struct recording r = recording_new(TRUE);
    g_rand_set_seed(r.random, (guint32)(100 + i));
    r.noise_n_m = 0.3;
    double share = (order[i] == 'B' ? gain_b : 1) * (1 + 0.0005 * (double)((i * 5) % 3));
    run(&r, 2, 2500, 0, 0.2);
    run(&r, 10, 2500, 400, share);
    s->processed[i] = process_text(r.text->str, f, "a pull");
    recording_clear(&r);
    ew_setup_defaults(&s->setup[i]);
    s->pulls[i] = (struct ew_compared_pull){curve_of(s->processed[i], 0), &s->setup[i],
                                            order[i] == 'A'   ? 0
                                            : order[i] == 'B' ? 1
                                                              : 2,
                                            (double)i};
  }
  facts_free(f);
  return s;
}

static void sides_free(struct sides *s) {
  for (gsize i = 0; i < s->count; i++) {
    ew_processed_free(s->processed[i]);
    ew_setup_clear(&s->setup[i]);
  }
  g_free(s);
}

static gboolean words_in(const GPtrArray *texts, const char *words) {
  for (guint i = 0; i < texts->len; i++) {
    g_autofree char *text = ew_message_text(texts->pdata[i], EW_UNITS_SI);
    if (strstr(text, words))
      return TRUE;
  }
  return FALSE;
}

static struct ew_comparison *asked_at(struct sides *s, const struct ew_spread *history,
                                      enum ew_level level) {
  struct ew_compare_options o = {.margin = 0.01,
                                 .level = level,
                                 .history = history,
                                 .band_low_rpm = NAN,
                                 .band_high_rpm = NAN,
                                 .drift_mean = NAN,
                                 .drift_sd = NAN,
                                 .minutes_a_pull = NAN,
                                 .litres_a_pull = NAN};
  g_autoptr(GError) error = NULL;
  struct ew_comparison *c = ew_compare(s->pulls, s->count, &o, &error);
  expect(c != NULL, "a comparison", "%s", error ? error->message : "");
  return c;
}

static struct ew_comparison *asked(struct sides *s, const struct ew_spread *history) {
  return asked_at(s, history, EW_LEVEL_CONSECUTIVE);
}

static const struct ew_spread usual = {0.002, 9, FALSE};

static void answers(void **state) {
  (void)state;
  static const struct {
    const char *says, *order;
    double gain;
    enum ew_verdict want;
    const char *warning; /* NULL: none is looked for */
  } rows[] = {
      {"3 % more", "ABABAB", 1.03, EW_VERDICT_GAIN, NULL},
      {"3 % less", "ABABAB", 0.97, EW_VERDICT_LOSS, NULL},
      {"nothing", "ABABAB", 1, EW_VERDICT_SAME, NULL},
      {"blocks warn", "AAABBB", 1.03, EW_VERDICT_GAIN, "A B A B next time"},
      {"one a side says so", "AB", 1.03, EW_VERDICT_GAIN, "one pull a side"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct sides *s = made(rows[i].order, rows[i].gain);
    struct ew_comparison *c = asked(s, &usual);
    expect(c->verdict == rows[i].want, rows[i].says, "%s, %.4f (%.4f to %.4f)",
           ew_verdict_keys[c->verdict], c->difference, c->low, c->high);
    expect_near(c->difference, rows[i].gain - 1, 0.003, rows[i].says);
    expect(!rows[i].warning || words_in(c->warnings, rows[i].warning), rows[i].says, "no warning");
    assert_true(c->safe && c->valid && c->better && c->worth);
    g_autofree char *line = ew_comparison_line(c);
    expect(strstr(line, ew_verdict_words[c->verdict]), rows[i].says, "%s", line);
    ew_comparison_free(c);
    sides_free(s);
  }
}

static void history_of_groups(void **state) {
  (void)state;
  struct sides *s = made("AB", 1.03);
  struct ew_comparison *c = asked(s, NULL);
  assert_int_equal(c->verdict, EW_VERDICT_UNDECIDED); /* nothing tells the scatter of this cell */
  assert_true(c->pulls_needed > 0 && c->next_order && c->cost_minutes > 0);
  ew_comparison_free(c);
  sides_free(s);
  s = made("ABHHHHHH", 1.05);
  c = asked(s, NULL);
  assert_int_equal(c->verdict, EW_VERDICT_GAIN);
  ew_comparison_free(c);
  sides_free(s);
}

/* What is to be run next: as many pulls as are needed (eight are written), as many of A as of B, beginning with the side that did not run
 * last; where each change costs a stop, two a run, and a run that has had one pull is given its second. */
static void what_runs_next(void **state) {
  (void)state;
  static const struct {
    const char *says, *order;
    enum ew_level level;
    const char *want;
  } rows[] = {
      {"after B comes A", "AB", EW_LEVEL_CONSECUTIVE, "A B A B"},
      {"after A comes B", "BA", EW_LEVEL_CONSECUTIVE, "B A B A"},
      {"with a stop for each change, B has its second first", "AB", EW_LEVEL_RESTART, "B A A B"},
      {"two of B are enough", "ABB", EW_LEVEL_RESTART, "A A B B"},
      {"without stops it is A's turn", "ABB", EW_LEVEL_CONSECUTIVE, "A B A B"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct sides *s = made(rows[i].order, 1.004);
    struct ew_comparison *c = asked_at(s, NULL, rows[i].level);
    expect(c->verdict == EW_VERDICT_UNDECIDED && c->next_order, rows[i].says, "%s",
           ew_verdict_keys[c->verdict]);
    gsize letters[2] = {0};
    for (const char *at = c->next_order; *at; at++)
      if (*at == 'A' || *at == 'B')
        letters[*at == 'B']++;
    expect(letters[0] == letters[1] && letters[0] + letters[1] == (gsize)MIN(c->pulls_needed, 8),
           rows[i].says, "%s of %d", c->next_order, c->pulls_needed);
    expect(strncmp(c->next_order, rows[i].want, MIN(strlen(rows[i].want), strlen(c->next_order))) ==
               0,
           rows[i].says, "%s", c->next_order);
    ew_comparison_free(c);
    sides_free(s);
  }
}

/* Unsafe is asked first, and torque does not outvote it. */
static void safe_comes_first(void **state) {
  (void)state;
  struct sides *s = made("ABABAB", 1.03);
  ((struct ew_curve *)s->pulls[3].curve)->knock_count = 5;
  ((struct ew_curve *)s->pulls[3].curve)->knock_near_rpm = 5100;
  struct ew_comparison *c = asked(s, &usual);
  assert_true(said(c->safe, "5 knock counts"));
  assert_true(said(c->safe, "go back whatever torque says"));
  g_autofree char *line = ew_comparison_line(c);
  assert_true(c->unsafe);
  assert_non_null(strstr(line, "not safe: 5 knock counts"));
  assert_null(strstr(line, "more pulls would"));
  ew_comparison_free(c);
  ((struct ew_curve *)s->pulls[3].curve)->knock_count = 0;
  s->setup[3].remark = g_strdup("specks of rain on the window");
  c = asked(s, &usual);
  assert_false(c->unsafe); /* a remark is a remark */
  ew_comparison_free(c);
  s->setup[3].seen = g_strdup("specks on 2");
  c = asked(s, &usual);
  assert_true(said(c->safe, "'specks on 2' was seen"));
  ew_comparison_free(c);
  sides_free(s);
}

/* Not comparable has its reason, and wins over gain. */
static void what_is_not_comparable(void **state) {
  (void)state;
  for (int kind = 0; kind < 5; kind++) {
    static const char *const words[] = {"different factors", "accelerations differ",
                                        "full throttle", "oil at the start", "steady points"};
    struct sides *s = made("ABABAB", 1.03);
    struct ew_curve *last = (struct ew_curve *)s->pulls[5].curve;
    for (int i = 1; i < 6; i += 2) {
      struct ew_curve *b = (struct ew_curve *)s->pulls[i].curve;
      ((struct ew_curve *)s->pulls[i - 1].curve)->conditions.oil_start_k = 360;
      b->conditions.oil_start_k = kind == 3 ? 375 : 360;
    }
    if (kind == 0)
      last->method.standard = EW_STANDARD_NONE;
    if (kind == 1)
      last->conditions.acceleration_rpm_s = 600;
    if (kind == 2)
      last->conditions.full_throttle = FALSE;
    if (kind == 4)
      last->kind = EW_SEGMENT_POINTS;
    struct ew_comparison *c = asked(s, &usual);
    expect(c->verdict == EW_VERDICT_NOT_COMPARABLE, words[kind], "%s", ew_verdict_keys[c->verdict]);
    expect(said(c->valid, words[kind]), words[kind], "%s", ew_message_id(c->valid));
    assert_true(said(c->better, "not asked"));
    expect(!c->band.half_width && !c->points, words[kind], "a curve of %zu points", c->points);
    expect(isnan(c->low) && isnan(c->high), words[kind], "%g to %g", c->low, c->high);
    ew_comparison_free(c);
    sides_free(s);
  }
}

/* Oil 15 K apart: refused, and then nothing is taken out, told or weighed; 6 K: taken out, and told as the gate tells it. */
static void conditions_of_a_refusal(void **state) {
  (void)state;
  struct sides *s = made("ABAB", 1.03);
  struct ew_effects effects = ew_effects_learn(NULL, 0, 1, 1, 1, 0.002);
  for (int far = 0; far < 2; far++) {
    for (gsize i = 0; i < s->count; i++)
      ((struct ew_curve *)s->pulls[i].curve)->conditions.oil_start_k =
          360 + (i % 2 ? (far ? 15 : 6) : (double)i); /* A warms up: as weighed it is +4.5 K */
    struct ew_compare_options o = {.margin = 0.01,
                                   .history = &usual,
                                   .band_low_rpm = NAN,
                                   .band_high_rpm = NAN,
                                   .drift_mean = NAN,
                                   .drift_sd = NAN,
                                   .minutes_a_pull = NAN,
                                   .litres_a_pull = NAN};
    g_autoptr(GError) error = NULL;
    struct ew_comparison *without = ew_compare(s->pulls, s->count, &o, &error);
    o.effects = &effects;
    struct ew_comparison *c = ew_compare(s->pulls, s->count, &o, &error);
    assert_true(c && without);
    const char *says = far ? "refused" : "comparable";
    expect((c->verdict == EW_VERDICT_NOT_COMPARABLE) == far, says, "%s",
           ew_verdict_keys[c->verdict]);
    expect(words_in(c->notes, "is taken out") != far, says, "%u notes", c->notes->len);
    expect(c->conditions.asked != far, says, "%d", c->conditions.asked);
    expect((fabs(c->difference - without->difference) > 1e-6) != far, says, "%g, without %g",
           c->difference, without->difference);
    expect(far || words_in(c->notes, "oil: B less A +5.0 K"), says, "%s", "not the sides' means");
    expect(far || words_in(c->warnings, "oil at the start differs by +5.0 K"), says, "%s",
           "the gate tells another figure");
    struct ew_json json = {.text = g_string_new(NULL)};
    ew_json_open(&json, NULL);
    ew_comparison_write_json(c, &json);
    ew_json_close(&json);
    expect((strstr(json.text->str, "\"weights\": []") != NULL ||
            strstr(json.text->str, "\"weights\":[]") != NULL) == far,
           says, "%s", strstr(json.text->str, "\"weights\""));
    g_string_free(json.text, TRUE);
    ew_comparison_free(c);
    ew_comparison_free(without);
  }
  sides_free(s);
}

static void start_windows_widen(void **state) {
  (void)state;
  struct sides *s = made("ABABAB", 1.03);
  struct ew_comparison *narrow = asked(s, &usual);
  for (int i = 0; i < 6; i++)
    ((struct ew_curve *)s->pulls[i].curve)->conditions.oil_start_k = i % 2 ? 366 : 360;
  struct ew_comparison *wide = asked(s, &usual); /* 6 K apart, and 3 K are allowed */
  assert_true(wide->high - wide->low > narrow->high - narrow->low);
  assert_true(words_in(wide->warnings, "oil at the start differs by +6.0 K"));
  ew_comparison_free(narrow);
  ew_comparison_free(wide);
  sides_free(s);
}

static void two_changes_at_once(void **state) {
  (void)state;
  struct sides *s = made("ABAB", 1.03);
  for (int i = 0; i < 4; i++) {
    s->setup[i].spark_deg = i % 2 ? 30 : 28;
    s->setup[i].plugs = g_strdup(i % 2 ? "hot" : "cold");
  }
  struct ew_comparison *c = asked(s, &usual);
  assert_true(words_in(c->warnings, "2 things were changed at once"));
  ew_comparison_free(c);
  sides_free(s);
}

static void refusals(void **state) {
  (void)state;
  struct sides *s = made("AB", 1.03);
  struct ew_compare_options o = {.margin = 0.01,
                                 .history = &usual,
                                 .band_low_rpm = 7000,
                                 .band_high_rpm = 8000,
                                 .drift_mean = NAN,
                                 .drift_sd = NAN};
  g_autoptr(GError) error = NULL;
  assert_null(ew_compare(s->pulls, s->count, &o, &error));
  expect_refused(error, "share|7,000 to 8,000", "a band that the pulls do not reach");
  sides_free(s);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(answers),
                                     cmocka_unit_test(history_of_groups),
                                     cmocka_unit_test(what_runs_next),
                                     cmocka_unit_test(safe_comes_first),
                                     cmocka_unit_test(what_is_not_comparable),
                                     cmocka_unit_test(conditions_of_a_refusal),
                                     cmocka_unit_test(start_windows_widen),
                                     cmocka_unit_test(two_changes_at_once),
                                     cmocka_unit_test(refusals)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
