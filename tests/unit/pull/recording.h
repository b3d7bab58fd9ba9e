/* Recordings as text, of an engine whose torque is known, for the tests of this room. */
#pragma once
#include "pull/process.h"
#include "../messages.h"
#include "unit.h"

struct recording {
  GString *text;
  GRand *random;
  double time_s, hz, noise_n_m, inertia_kg_m2;
  gboolean throttle; /* with a column for it */
};

/* 190 N·m at 4,600 rpm, falling to both sides. */
static inline double true_torque_n_m(double rpm) {
  return 190 * (1 - pow((rpm - 4600) / 6500, 2));
}

static inline struct recording recording_new(gboolean throttle) {
  struct recording r = {g_string_new("Time [s],RPM,Torque [N·m],Baro [hPa],IAT [°C],Humidity [%]"),
                        g_rand_new_with_seed(11),
                        0,
                        50,
                        0,
                        0,
                        throttle};
  g_string_append(r.text, throttle ? ",TPS [%]\n" : "\n");
  return r;
}

static inline void recording_clear(struct recording *r) {
  g_string_free(r->text, TRUE);
  g_rand_free(r->random);
}

/* `seconds` from a speed on with this acceleration; `load` 1 is full load. */
static inline void run(struct recording *r, double seconds, double rpm, double rate_rpm_s,
                       double load) {
  gsize n = (gsize)lround(seconds * r->hz);
  for (gsize i = 0; i < n; i++, r->time_s += 1 / r->hz) {
    double speed = rpm + rate_rpm_s * (double)i / r->hz;
    double noise =
        r->noise_n_m *
        (g_rand_double(r->random) + g_rand_double(r->random) + g_rand_double(r->random) - 1.5) * 2;
    double torque =
        load * true_torque_n_m(speed) - r->inertia_kg_m2 * rate_rpm_s * G_PI / 30 + noise;
    g_string_append_printf(r->text, "%.3f,%.3f,%.5f,990,25,50", r->time_s, speed, torque);
    if (r->throttle)
      g_string_append_printf(r->text, ",%.2f", 100 * load);
    g_string_append_c(r->text, '\n');
  }
}

/* A light load, a sweep at full load, a lift. */
static inline void sweep(struct recording *r, double low, double high, double rate) {
  run(r, 2, low, 0, 0.2);
  run(r, (high - low) / rate, low, rate, 1);
  run(r, 1.5, high, -2 * rate, 0.05);
}

struct facts {
  struct ew_method method;
  struct ew_bench bench;
  struct ew_engine engine;
  struct ew_setup setup;
  struct ew_reduce_facts reduce;
};

static inline struct facts *facts_new(void) {
  struct facts *f = g_new0(struct facts, 1);
  ew_method_defaults(&f->method);
  ew_bench_defaults(&f->bench);
  ew_engine_defaults(&f->engine);
  ew_setup_defaults(&f->setup);
  f->reduce = (struct ew_reduce_facts){&f->method, &f->bench, &f->engine, &f->setup};
  return f;
}

static inline void facts_free(struct facts *f) {
  ew_fields_clear(&ew_bench_fields, &f->bench);
  ew_engine_clear(&f->engine);
  ew_setup_clear(&f->setup);
  g_free(f);
}

/* The recording, processed; the test fails when it is refused. */
static inline struct ew_processed *process_text(const char *text, const struct facts *f,
                                                const char *says) {
  g_autoptr(GError) error = NULL;
  struct ew_processed *p = ew_process(text, strlen(text), "run.csv", NULL, &f->reduce, &error);
  expect(p != NULL, says, "%s", error ? error->message : "");
  return p;
}

static inline const struct ew_curve *curve_of(const struct ew_processed *p, guint i) {
  return g_ptr_array_index(p->curves, i);
}
