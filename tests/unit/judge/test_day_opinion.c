#include "judge/day_opinion.h"
#include "said.h"
#include "unit.h"

#define MOST 40

struct day {
  struct ew_day_told told[MOST];
  gsize n;
};

/* One more pull of the letter: a and b of an earlier day, A and B of today. */
static void add(struct day *d, char letter, double per_cent, double inlet_k,
                const ew_message *name) {
  gboolean today = g_ascii_isupper(letter);
  d->told[d->n++] = (struct ew_day_told){.pull = {.day = today ? 2 : 1,
                                                  .setup = g_ascii_tolower(letter) == 'b',
                                                  .spark_deg = 30,
                                                  .covariate = {NAN, inlet_k, NAN, NAN},
                                                  .log_mean = 5 + per_cent / 100},
                                         .name = name,
                                         .today = today};
}

static const double noise[] = {0.12, -0.2, 0.15,  0.22, -0.25, 0.05,
                               -0.1, 0.18, -0.07, 0,    0.2,   -0.15};

static void a_day(struct day *d, const char *order, double b, double warm_k) {
  *d = (struct day){0};
  for (int i = 0; i < 12; i++)
    add(d, i % 2 ? 'b' : 'a', noise[i] + 0.3 * (i % 2), 298 + i % 3, NULL);
  for (int i = 0; order[i]; i++)
    add(d, order[i], (order[i] == 'B') * b + noise[i], 298 + (order[i] == 'B') * warm_k, NULL);
}

static struct ew_comparison plain_of(double difference, double half, double confidence) {
  return (struct ew_comparison){.verdict = EW_VERDICT_UNDECIDED,
                                .difference = difference,
                                .low = difference - half,
                                .high = difference + half,
                                .confidence = confidence,
                                .margin = 0.01};
}

static void verdicts(void **state) {
  (void)state;
  static const struct {
    const char *says, *order;
    double b, confidence;
    enum ew_verdict want;
    const char *note;
  } rows[] = {
      {"2 % better", "ABABAB", 2, 0.95, EW_VERDICT_GAIN, NULL},
      {"2 % worse", "ABABAB", -2, 0.95, EW_VERDICT_LOSS, NULL},
      {"the same", "ABABABABAB", 0, 0.95, EW_VERDICT_SAME, NULL},
      {"1 %: neither, at a later look", "ABAB", 1, 0.999, EW_VERDICT_UNDECIDED, NULL},
      {"3 % better, but A has not come back", "AABB", 3, 0.95, EW_VERDICT_UNDECIDED,
       "judge.day-not-back"},
      {"3 % worse needs no coming back", "AABB", -3, 0.95, EW_VERDICT_LOSS, NULL},
      {"a loss of 5 %, run once", "AAB", -5, 0.95, EW_VERDICT_UNDECIDED, NULL},
      {"a later look asks for more", "ABAB", 1.2, 0.99999, EW_VERDICT_UNDECIDED, NULL},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct day d;
    a_day(&d, rows[i].order, rows[i].b, 0);
    struct ew_comparison plain = plain_of(rows[i].b / 100, 0.02, rows[i].confidence);
    struct ew_day_opinion *o = ew_day_opinion(d.told, d.n, &plain);
    assert_non_null(o);
    expect(o->verdict == rows[i].want, rows[i].says, "%s (%g, %g to %g)",
           ew_verdict_keys[o->verdict], o->difference, o->low, o->high);
    gboolean noted = FALSE;
    for (guint k = 0; k < o->notes->len; k++)
      noted |= strcmp(ew_message_id(o->notes->pdata[k]), "judge.day-not-back") == 0;
    expect(noted == (rows[i].note != NULL), rows[i].says, "noted: %d", noted);
    expect(o->days == 2 && o->pulls == d.n && !o->apart, rows[i].says, "%u days", o->days);
    ew_day_opinion_free(o);
  }
}

static void none(void **state) {
  (void)state;
  struct day d;
  struct ew_comparison plain = plain_of(0, 0.02, 0.95);
  a_day(&d, "AAA", 0, 0);
  assert_null(ew_day_opinion(d.told, d.n, &plain)); /* no B today */
  a_day(&d, "", 0, 0);
  assert_null(ew_day_opinion(d.told, d.n, &plain)); /* nothing today */
  assert_null(ew_day_opinion(NULL, 0, &plain));
  a_day(&d, "ABAB", 1, 0);
  plain.verdict = EW_VERDICT_NOT_COMPARABLE;
  assert_null(ew_day_opinion(d.told, d.n, &plain));
}

static const ew_message *note_of(const struct ew_day_opinion *o, const char *id) {
  for (guint k = 0; k < o->notes->len; k++)
    if (strcmp(ew_message_id(o->notes->pdata[k]), id) == 0)
      return o->notes->pdata[k];
  return NULL;
}

static void what_it_tells(void **state) {
  (void)state;
  struct day d;
  struct ew_comparison plain = plain_of(0, 0.02, 0.95);
  a_day(&d, "ABABAB", 0, 3); /* 3 K warmer at the inlet on B */
  struct ew_day_opinion *o = ew_day_opinion(d.told, d.n, &plain);
  expect_near(o->change[EW_DAY_INLET], 3, 1e-9, "3 K");
  expect(note_of(o, "judge.day-effect") && o->shift[EW_DAY_INLET] < 0, "is told", "%g",
         o->shift[EW_DAY_INLET]);
  expect(isnan(o->change[EW_DAY_OIL]) && o->shift[EW_DAY_OIL] == 0, "oil that nobody measured",
         "%g", o->change[EW_DAY_OIL]);
  ew_day_opinion_free(o);
  a_day(&d, "ABABAB", 0, 0);
  plain = plain_of(0.04, 0.005, 0.95);
  o = ew_day_opinion(d.told, d.n, &plain);
  expect(o->apart && note_of(o, "judge.day-apart"), "plain 4 %, the day nothing", "%g",
         o->difference);
  ew_day_opinion_free(o);
  plain.low = plain.high = NAN; /* nothing could be said */
  o = ew_day_opinion(d.told, d.n, &plain);
  expect(!o->apart, "no interval to be apart from", "%d", o->apart);
  ew_day_opinion_free(o);
  g_autoptr(ew_message) name = ew_message_plain(ew_verdict_word(EW_VERDICT_SAME));
  plain = plain_of(0, 0.02, 0.95);
  add(&d, 'A', -4, 298, name);
  o = ew_day_opinion(d.told, d.n, &plain);
  expect(note_of(o, "judge.day-misfit") && o->verdict == EW_VERDICT_UNDECIDED,
         "4 % below all others", "%u notes", o->notes->len);
  ew_day_opinion_free(o);
  add(&d, 'B', NAN, 298, name); /* no figure: as if it were not there */
  o = ew_day_opinion(d.told, d.n, &plain);
  expect(o->pulls == d.n - 1 && isfinite(o->low) && isfinite(o->high), "a pull without a figure",
         "%u", o->pulls);
  expect(note_of(o, "judge.day-misfit") && o->misfit_side == 0, "A did not run again", "%d",
         o->misfit_side);
  ew_day_opinion_free(o);
  add(&d, 'A', NAN, 298, name); /* nor does this count as having run again */
  o = ew_day_opinion(d.told, d.n, &plain);
  expect(o->misfit_side == 0, "A ran again without a figure", "%d", o->misfit_side);
  ew_day_opinion_free(o);
  add(&d, 'A', 0.1, 298, name);
  add(&d, 'B', 0, 298, name);
  o = ew_day_opinion(d.told, d.n, &plain);
  expect(!note_of(o, "judge.day-misfit") && note_of(o, "judge.day-misfit-again") &&
             o->misfit_side == -1 && o->misfit_pull == 0,
         "A has run again", "%u notes", o->notes->len);
  expect(o->verdict == EW_VERDICT_SAME, "the bad one counts next to nothing", "%s (%g to %g)",
         ew_verdict_keys[o->verdict], o->low, o->high);
  ew_day_opinion_free(o);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(verdicts), cmocka_unit_test(none),
                                     cmocka_unit_test(what_it_tells)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
