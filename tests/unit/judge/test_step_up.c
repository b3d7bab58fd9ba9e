/* Allowances: common practice, no source. */
#include "judge/step_up.h"
#include "said.h"
#include "unit.h"

#define POINTS 41
enum { OIL, OIL_T, COOLANT_T, LAMBDA, FUEL, CRANKCASE, COOLANT, CHANNELS };
static const struct {
  enum ew_channel channel;
  double value;
} sound[CHANNELS] = {{EW_CHANNEL_OIL_PRESSURE, 4.5e5},      {EW_CHANNEL_OIL_TEMPERATURE, 360},
                     {EW_CHANNEL_COOLANT_TEMPERATURE, 353}, {EW_CHANNEL_LAMBDA, 0.88},
                     {EW_CHANNEL_FUEL_PRESSURE, 3e5},       {EW_CHANNEL_CRANKCASE_PRESSURE, 300},
                     {EW_CHANNEL_COOLANT_PRESSURE, 1e5}};

static void column(struct ew_curve *c, enum ew_channel channel, double value) {
  struct ew_curve_column one = {channel,
                                0,
                                ew_channel_facts[channel].key,
                                ew_channel_facts[channel].kind,
                                g_new(double, POINTS),
                                g_new0(double, POINTS)};
  for (int j = 0; j < POINTS; j++)
    one.values[j] = value;
  g_array_append_val(c->columns, one);
}

/* A sound pull from 2,500 to 6,500 rpm; power still rises at the top. */
static struct ew_curve *sound_curve(int without) {
  struct ew_curve *c = g_new0(struct ew_curve, 1);
  c->points = POINTS;
  double **arrays[] = {&c->speed_rpm,    &c->torque_n_m,  &c->torque_se_n_m,      &c->power_w,
                       &c->observed_n_m, &c->inertia_n_m, &c->engine_inertia_n_m, &c->samples};
  for (gsize i = 0; i < G_N_ELEMENTS(arrays); i++)
    *arrays[i] = g_new0(double, POINTS);
  for (int j = 0; j < POINTS; j++) {
    c->speed_rpm[j] = 2500 + 100 * j;
    c->torque_n_m[j] = c->observed_n_m[j] = 200;
    c->power_w[j] = 200 * c->speed_rpm[j] * G_PI / 30;
  }
  c->low_rpm = 2500;
  c->high_rpm = 6500;
  c->columns = g_array_new(FALSE, FALSE, sizeof(struct ew_curve_column));
  c->warnings = ew_messages_new();
  for (int i = 0; i < CHANNELS; i++)
    if (i != without)
      column(c, sound[i].channel, sound[i].value);
  c->conditions = (struct ew_conditions){.temperature_k = 298,
                                         .temperature_from = "channel",
                                         .throttle_known = TRUE,
                                         .full_throttle = TRUE};
  c->tail_scatter = 1;
  c->knock_near_rpm = NAN;
  return c;
}

static double *values_of(struct ew_curve *c, enum ew_channel channel) {
  return ew_curve_column(c, ew_channel_facts[channel].key, 0)->values;
}

struct asked {
  struct ew_engine engine;
  struct ew_setup setup;
  struct ew_step_up_input input;
};

static struct asked *ask(struct ew_curve *c, double limit) {
  struct asked *a = g_new0(struct asked, 1);
  ew_engine_defaults(&a->engine);
  ew_setup_defaults(&a->setup);
  a->engine.agreed_limit_rpm = limit;
  a->engine.valve_train_limit_rpm = a->engine.rod_limit_rpm = 9000;
  a->input = (struct ew_step_up_input){.curve = c,
                                       .engine = &a->engine,
                                       .setup = &a->setup,
                                       .valid_pulls_here = 3,
                                       .lambda_target = 0.88,
                                       .next_rpm = NAN};
  return a;
}

static void answer(struct asked *a, enum ew_step_up_answer want, const char *words,
                   const char *says) {
  struct ew_step_up *s = ew_step_up(&a->input);
  expect(s->answer == want, says, "%s", ew_message_id(s->says));
  expect(said(s->says, words), says, "%s", ew_message_id(s->says));
  ew_step_up_free(s);
  ew_engine_clear(&a->engine);
  ew_setup_clear(&a->setup);
  ew_curve_free((struct ew_curve *)a->input.curve);
  if (a->input.before)
    ew_curve_free((struct ew_curve *)a->input.before);
  g_free(a);
}

static void nothing_found(void **state) {
  (void)state;
  answer(ask(sound_curve(-1), 8000), EW_STEP_NOTHING_FOUND, "no objection to 7,000 rpm",
         "a sound pull");
}

static void a_missing_channel_holds(void **state) {
  (void)state;
  static const char *const names[CHANNELS] = {
      "oil pressure",  "oil temperature",    "coolant temperature", "lambda",
      "fuel pressure", "crankcase pressure", "coolant pressure"};
  for (int i = 0; i < CHANNELS; i++)
    answer(ask(sound_curve(i), 8000), EW_STEP_HOLD, names[i], names[i]);
  struct ew_curve *c = sound_curve(-1);
  c->conditions.throttle_known = FALSE;
  answer(ask(c, 8000), EW_STEP_HOLD, "throttle", "no throttle");
  c = sound_curve(-1);
  c->conditions.temperature_from = "set-up";
  answer(ask(c, 8000), EW_STEP_HOLD, "inlet air", "no inlet air temperature of its own");
}

static void what_the_pull_shows(void **state) {
  (void)state;
  static const struct {
    const char *says;
    enum ew_channel channel;
    double last500; /* added to the last 500 rpm, rising from nothing */
    enum ew_step_up_answer want;
    const char *words;
  } rows[] = {
      {"oil dips by half a bar: stop", EW_CHANNEL_OIL_PRESSURE, -0.5e5, EW_STEP_STOP,
       "oil pressure falls"},
      {"oil dips by a whole bar: stop", EW_CHANNEL_OIL_PRESSURE, -0.98e5, EW_STEP_STOP,
       "oil pressure falls by 0.98 bar"},
      {"a figure lost before the top is missing", EW_CHANNEL_FUEL_PRESSURE, NAN, EW_STEP_HOLD,
       "fuel pressure is lost before the top: known to 6,000 rpm"},
      {"oil pressure lost before the top", EW_CHANNEL_OIL_PRESSURE, NAN, EW_STEP_HOLD,
       "oil pressure is lost before the top: known to"},
      {"oil dips by a fifth of a bar", EW_CHANNEL_OIL_PRESSURE, -0.2e5, EW_STEP_NOTHING_FOUND, ""},
      {"it leans out", EW_CHANNEL_LAMBDA, 0.035, EW_STEP_HOLD, "lambda"},
      {"it leans a little", EW_CHANNEL_LAMBDA, 0.01, EW_STEP_NOTHING_FOUND, ""},
      {"it richens far", EW_CHANNEL_LAMBDA, -0.05, EW_STEP_HOLD, "lambda"},
      {"fuel pressure drops", EW_CHANNEL_FUEL_PRESSURE, -0.3e5, EW_STEP_HOLD, "fuel pressure"},
      {"coolant pressure rises: stop", EW_CHANNEL_COOLANT_PRESSURE, 0.5e5, EW_STEP_STOP,
       "coolant pressure rises"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_curve *c = sound_curve(-1);
    double *values = values_of(c, rows[i].channel);
    for (int j = 1; j <= 5; j++)
      values[POINTS - 6 + j] += rows[i].last500 * j / 5;
    answer(ask(c, 8000), rows[i].want, rows[i].words, rows[i].says);
  }
}

/* The gravest is the headline, whatever stands before it. */
static void the_gravest_first(void **state) {
  (void)state;
  struct ew_curve *c = sound_curve(CRANKCASE);
  double *oil = values_of(c, EW_CHANNEL_OIL_PRESSURE);
  for (int j = 1; j <= 5; j++)
    oil[POINTS - 6 + j] -= 0.98e5 * j / 5;
  answer(ask(c, 8000), EW_STEP_STOP, "stop and look: oil pressure falls by 0.98 bar",
         "a fall of oil pressure before a channel that is not recorded");
  c = sound_curve(CRANKCASE);
  values_of(c, EW_CHANNEL_LAMBDA)[POINTS - 1] = 0.95;
  answer(ask(c, 8000), EW_STEP_HOLD, "hold: lambda is 0.950",
         "a measured hold before a missing one");
  c = sound_curve(-1);
  values_of(c, EW_CHANNEL_LAMBDA)[POINTS - 1] = 0.91;        /* by half of the allowance over */
  values_of(c, EW_CHANNEL_FUEL_PRESSURE)[POINTS - 1] *= 0.7; /* six times it */
  answer(ask(c, 8000), EW_STEP_HOLD, "hold: fuel pressure drops by 30.0 %",
         "what is farthest over");
  c = sound_curve(-1);
  c->tail_scatter = 9;
  struct asked *a = ask(c, 8000);
  a->setup.seen = g_strdup("specks on 4");
  answer(a, EW_STEP_STOP, "stop and look: 'specks on 4' was seen", "a sign before any figure");
}

/* The floor: half a bar a thousand rpm, 2 bar from 4,000 on, without any earlier pull. */
static void oil_pressure_has_a_floor(void **state) {
  (void)state;
  static const struct {
    const char *says;
    double pa;
    enum ew_step_up_answer want;
    const char *words;
  } rows[] = {{"next to nothing from before load on", 0.09e5, EW_STEP_STOP,
               "oil pressure is 0.09 bar at 4,000 rpm"},
              {"a little under", 1.95e5, EW_STEP_STOP, "no less than 2.00 bar there"},
              {"a little over", 2.05e5, EW_STEP_NOTHING_FOUND, ""}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_curve *c = sound_curve(-1);
    for (int j = 0; j < POINTS; j++)
      values_of(c, EW_CHANNEL_OIL_PRESSURE)[j] = rows[i].pa;
    answer(ask(c, 8000), rows[i].want, rows[i].words, rows[i].says);
  }
}

/* What the cell's file says is not fitted holds nothing, and is said once. */
static void what_is_not_fitted(void **state) {
  (void)state;
  struct ew_bench bench;
  ew_bench_defaults(&bench);
  bench.not_fitted = (guint64)1 << EW_CHANNEL_CRANKCASE_PRESSURE;
  struct asked *a = ask(sound_curve(CRANKCASE), 8000);
  a->input.bench = &bench;
  struct ew_step_up *s = ew_step_up(&a->input);
  int times = 0;
  for (guint i = 0; i < s->rows->len; i++) {
    const ew_message *found = g_array_index(s->rows, struct ew_step_up_row, i).found;
    g_autofree char *text = ew_message_text(found, EW_UNITS_SI);
    times += strstr(text, "crankcase") != NULL;
  }
  expect(times == 1, "said once", "%d", times);
  ew_step_up_free(s);
  answer(a, EW_STEP_NOTHING_FOUND, "no objection to 7,000 rpm", "not fitted, and said to be");
  a = ask(sound_curve(COOLANT), 8000);
  a->input.bench = &bench;
  answer(a, EW_STEP_HOLD, "coolant pressure is not recorded", "another one still holds");
}

/* Trips: open ones stop, one that was looked into leaves a pull that proves nothing. */
static void trips_decide(void **state) {
  (void)state;
  g_autoptr(GPtrArray) open = ew_messages_new();
  struct asked *a = ask(sound_curve(-1), 8000);
  a->input.open_trips = open;
  answer(a, EW_STEP_NOTHING_FOUND, "no objection", "no trip");
  ew_messages_add(open, as_message("shut down, oil pressure lost, in pull 3 (trip 1)"));
  a = ask(sound_curve(-1), 8000);
  a->input.open_trips = open;
  answer(a, EW_STEP_STOP, "stop and look: shut down, oil pressure lost, in pull 3", "an open one");
  a = ask(sound_curve(-1), 8000);
  g_autoptr(ew_message) tripped =
      as_message("shut down, oil pressure lost, in pull 3 (trip 1): found 'sump low'");
  a->input.tripped = tripped;
  answer(a, EW_STEP_HOLD, "a pull that tripped proves nothing", "one that was looked into");
  g_autoptr(GPtrArray) higher = ew_messages_new();
  ew_messages_add(higher, as_message("pull 2 to 6997 rpm stopped for: oil pressure falls"));
  a = ask(sound_curve(-1), 8000);
  a->input.higher = higher;
  answer(a, EW_STEP_STOP, "stop and look: pull 2 to 6997 rpm stopped", "a pull to a higher limit");
}

static void knock_and_remarks(void **state) {
  (void)state;
  struct ew_curve *c = sound_curve(-1);
  c->knock_count = 4, c->knock_near_rpm = 5200;
  answer(ask(c, 8000), EW_STEP_STOP, "5,200 rpm", "knock");
  c = sound_curve(-1);
  c->knock_count = 1, c->knock_near_rpm = 5200;
  answer(ask(c, 8000), EW_STEP_HOLD, "knock", "one count");
  struct asked *a = ask(sound_curve(-1), 8000);
  a->setup.seen = g_strdup("a tick from the left bank");
  answer(a, EW_STEP_STOP, "tick from the left", "something heard");
  a = ask(sound_curve(-1), 8000);
  a->setup.remark = g_strdup("the new lad at the throttle");
  answer(a, EW_STEP_NOTHING_FOUND, "no objection", "a remark is a remark");
  c = sound_curve(-1);
  c->tail_scatter = 1.8;
  answer(ask(c, 8000), EW_STEP_HOLD, "scatter", "torque scatters at the top");
}

static void its_own_trend(void **state) {
  (void)state;
  struct asked *a = ask(sound_curve(-1), 8000);
  struct ew_curve *before = sound_curve(-1);
  double *oil = values_of(before, EW_CHANNEL_OIL_PRESSURE);
  for (int j = 0; j < POINTS; j++)
    oil[j] = 5.3e5;
  a->input.before = before;
  answer(a, EW_STEP_HOLD, "its own trend", "oil stands at 85 % of before");
  a = ask(sound_curve(-1), 8000);
  before = sound_curve(-1);
  for (int j = 0; j < POINTS; j++)
    values_of(before, EW_CHANNEL_OIL_PRESSURE)[j] = 6e5;
  a->input.before = before;
  answer(a, EW_STEP_STOP, "its own trend", "oil stands at 75 % of before");
  a = ask(sound_curve(-1), 8000);
  before = sound_curve(-1);
  for (int j = 0; j < POINTS; j++)
    values_of(before, EW_CHANNEL_CRANKCASE_PRESSURE)[j] = -900;
  a->input.before = before;
  answer(a, EW_STEP_HOLD, "crankcase pressure", "more blow-by than before");
}

static void the_ceiling(void **state) {
  (void)state;
  struct asked *a = ask(sound_curve(-1), 8000);
  a->input.next_rpm = 8500;
  answer(a, EW_STEP_HOLD, "8,500 rpm is above", "above what was agreed");
  a = ask(sound_curve(-1), NAN);
  a->engine.valve_train_limit_rpm = 7000;
  a->input.next_rpm = 7000;
  answer(a, EW_STEP_HOLD, "above 97 %", "97 % of the weakest part");
  a = ask(sound_curve(-1), NAN);
  a->engine.valve_train_limit_rpm = a->engine.rod_limit_rpm = NAN;
  answer(a, EW_STEP_HOLD, "no mechanical limit", "nothing is stated");
  a = ask(sound_curve(-1), 6500);
  struct ew_step_up *s = ew_step_up(&a->input);
  assert_true(isnan(s->next_rpm)); /* there it ends */
  expect_near(s->ceiling_rpm, 6500, 0, "the ceiling");
  ew_step_up_free(s);
  a->input.valid_pulls_here = 1;
  answer(a, EW_STEP_HOLD, "1 valid pull", "two pulls are wanted near the ceiling");
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(nothing_found),
                                     cmocka_unit_test(a_missing_channel_holds),
                                     cmocka_unit_test(what_the_pull_shows),
                                     cmocka_unit_test(the_gravest_first),
                                     cmocka_unit_test(oil_pressure_has_a_floor),
                                     cmocka_unit_test(what_is_not_fitted),
                                     cmocka_unit_test(trips_decide),
                                     cmocka_unit_test(knock_and_remarks),
                                     cmocka_unit_test(its_own_trend),
                                     cmocka_unit_test(the_ceiling)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
