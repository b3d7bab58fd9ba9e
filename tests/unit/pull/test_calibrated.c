/* A calibration's record: applied to raw, kept as text that reads to the same bits, with the doubt of a straight line. */
#include "pull/calibrated.h"
#include "recording.h"
#include <math.h>

static struct ew_calibrated_line torque_line(double gain, double offset, double zero) {
  return (struct ew_calibrated_line){.channel = EW_CHANNEL_TORQUE,
                                     .gain = gain,
                                     .gain_u = 0.0004,
                                     .offset = offset,
                                     .offset_u = 0.05,
                                     .covariance = -1.5e-5,
                                     .points = 7,
                                     .zero = zero,
                                     .zero_age_s = 3600,
                                     .hysteresis = 0.2,
                                     .at = g_strdup("2026-11-30T07:00:00Z")};
}

static void reads_to_the_same_bits(void **state) {
  (void)state;
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_calibrated) one = ew_calibrated_new();
  ew_calibrated_add(one, torque_line(0.9710300000000001, -0.3, 0.1 + 0.2));
  ew_calibrated_add(one, (struct ew_calibrated_line){.channel = EW_CHANNEL_BAROMETER,
                                                     .gain = 1 / 3.0 + 0.6667,
                                                     .points = NAN,
                                                     .zero_age_s = NAN,
                                                     .hysteresis = NAN,
                                                     .expired = TRUE});
  g_autofree char *text = ew_calibrated_write(one);
  ew_calibrated *read = NULL;
  expect(ew_calibrated_parse(text, &read, &error), "what was written reads", "%s\n%s", text,
         error ? error->message : "");
  g_autoptr(ew_calibrated) two = read;
  g_autofree char *again = ew_calibrated_write(two);
  assert_string_equal(text, again);
  const struct ew_calibrated_line *a = ew_calibrated_find(one, EW_CHANNEL_TORQUE),
                                  *b = ew_calibrated_find(two, EW_CHANNEL_TORQUE);
  assert_true(a->gain == b->gain && a->zero == b->zero && a->covariance == b->covariance);
  assert_true(ew_calibrated_find(two, EW_CHANNEL_BAROMETER)->expired);
  assert_null(ew_calibrated_find(two, EW_CHANNEL_SPEED));
  assert_null(ew_calibrated_find(NULL, EW_CHANNEL_TORQUE));
  assert_null(ew_calibrated_write(NULL));
}

static void refusals(void **state) {
  (void)state;
  static const struct {
    const char *says, *text, *want;
  } rows[] = {
      {"a channel that does not exist", "tork: {gain: 1}", "tork"},
      {"a gain of nothing", "torque: {gain: 0, gain_u: 0, offset: 0, offset_u: 0, covariance: 0}",
       "gain"},
      {"a gain that is not there", "torque: {offset: 0}", "needs gain"},
      {"a list", "- 1", "one channel a line"},
      {"a field of something else", "torque: {slope: 1}", "slope"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    ew_calibrated *read = NULL;
    assert_false(ew_calibrated_parse(rows[i].text, &read, &error));
    expect_refused(error, rows[i].want, rows[i].says);
    assert_null(read);
  }
  ew_calibrated *none = NULL;
  assert_true(ew_calibrated_parse(NULL, &none, NULL) && !none);
  assert_true(ew_calibrated_parse("", &none, NULL) && !none);
}

/* GUM H.3 and its worked example: y = b1 + b2 (t - 20), b1 = -0.1712, b2 = 0.00218, s(b1) = 0.0029, s(b2) = 0.00067, r = -0.930;
 * at 30 degrees the correction is -0.1494 with u = 0.0041 (JCGM 100:2008, H.3.4). There the correction is added: gain - 1 is b2. */
static void doubt_of_the_line(void **state) {
  (void)state;
  struct ew_calibrated_line line = {.channel = EW_CHANNEL_INLET_AIR_TEMPERATURE,
                                    .gain = 1.00218,
                                    .gain_u = 0.00067,
                                    .offset = -0.1712,
                                    .offset_u = 0.0029,
                                    .covariance = -0.930 * 0.0029 * 0.00067};
  expect_near(ew_calibrated_value(&line, 10) - 10, -0.1494, 5e-5, "the correction at 30 degrees");
  expect_near(ew_calibrated_u(&line, 10), 0.0041, 5e-5, "its standard uncertainty");
  expect_near(ew_calibrated_read_of(&line, ew_calibrated_value(&line, 7.5)), 7.5, 1e-12, "back");
  assert_true(isnan(ew_calibrated_value(&line, NAN)));
}

/* A load cell that reads 3 % high, with a zero of 4 N·m, gives the curve of a true one. */
static void on_raw(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct recording right = recording_new(TRUE), wrong = recording_new(TRUE);
  sweep(&right, 2500, 6500, 400);
  g_auto(GStrv) rows = g_strsplit(right.text->str, "\n", -1);
  g_string_assign(wrong.text, "");
  for (int i = 0; rows[i] && *rows[i]; i++) {
    g_auto(GStrv) cells = g_strsplit(rows[i], ",", -1);
    if (i > 0) {
      char *read = g_strdup_printf("%.7f", g_ascii_strtod(cells[2], NULL) / 0.97 + 4);
      g_free(cells[2]);
      cells[2] = read;
    }
    g_autofree char *row = g_strjoinv(",", cells);
    g_string_append_printf(wrong.text, "%s\n", row);
  }
  struct ew_processed *one = process_text(right.text->str, f, "right"),
                      *bare = process_text(wrong.text->str, f, "wrong");
  g_autoptr(ew_calibrated) calibration = ew_calibrated_new();
  ew_calibrated_add(calibration, torque_line(0.97, 0, 4));
  f->reduce.calibration = calibration;
  struct ew_processed *mended = process_text(wrong.text->str, f, "calibrated");
  double truth = curve_of(one, 0)->band_mean_n_m;
  expect(curve_of(bare, 0)->band_mean_n_m > 1.04 * truth, "it was wrong", "%g against %g",
         curve_of(bare, 0)->band_mean_n_m, truth);
  expect_near(curve_of(mended, 0)->band_mean_n_m / truth, 1, 1e-6, "and is right");
  ew_processed_free(one);
  ew_processed_free(bare);
  ew_processed_free(mended);
  recording_clear(&right);
  recording_clear(&wrong);
  facts_free(f);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(reads_to_the_same_bits),
                                     cmocka_unit_test(refusals),
                                     cmocka_unit_test(doubt_of_the_line), cmocka_unit_test(on_raw)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
