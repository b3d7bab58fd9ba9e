/* Size, speeds of the piston, balance and the shaft line. */
#include "engine/balance.h"
#include "engine/check_parts.h"
#include "engine/compression.h"
#include "engine/slider_crank.h"
#include <math.h>

#define SIZE "Size and piston"

static void warn_displacement(struct ew_engine_check *check, double computed) {
  double stated = check->engine->displacement_stated_m3;
  if (fabs(computed / stated - 1) > 0.02)
    ew_check_warn(
        check, EW_NOTE, "displacement",
        "the stated displacement of %.0f cc is %.1f %% off what bore and stroke give, %.0f "
        "cc, which is used",
        stated * 1e6, fabs(computed / stated - 1) * 100, computed * 1e6);
}

static void add_size(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  double displacement = ew_engine_displacement_m3(e);
  ew_check_need(check, displacement, "displacement", "bore and stroke, or displacement");
  warn_displacement(check, displacement);
  ew_check_add(check,
               EW_FIGURE("displacement", SIZE, "displacement", VOLUME, EXACT, "displacement"),
               displacement);
  ew_check_add(check,
               EW_FIGURE("swept_volume", SIZE, "one cylinder", VOLUME, EXACT, "displacement"),
               ew_swept_volume_m3(e));
  ew_check_add(
      check, EW_FIGURE("bore_over_stroke", SIZE, "bore over stroke", NUMBER, EXACT, "displacement"),
      e->bore_m / e->stroke_m);
  double ratio = e->geometry.rod_length_m / e->stroke_m;
  ew_check_add(
      check, EW_FIGURE("rod_ratio", SIZE, "rod over stroke", NUMBER, EXACT, "slider-crank"), ratio);
  if (ratio < 1.5 || ratio > 2.0)
    ew_check_warn(check, EW_NOTE, "geometry.rod_length",
                  "rod ratio %.2f lies outside the usual 1.5 to 1.9 (common practice, no source)",
                  ratio);
}

static double greatest_jerk(struct ew_slider_crank crank, double speed_rpm) {
  double most = 0;
  for (int angle = 0; angle < 360; angle++)
    most = fmax(most, fabs(ew_piston_at(crank, angle, speed_rpm).jerk_m_s3));
  return most;
}

static void warn_piston_speed(struct ew_engine_check *check, double mean) {
  if (mean > 25)
    ew_check_warn(check, EW_CAUTION, "agreed_limit",
                  "mean piston speed %.1f m/s at %.0f rpm: above 25 m/s only racing engines with "
                  "short lives run (common practice, no source)",
                  mean, check->top_speed_rpm);
  else if (mean > 20)
    ew_check_warn(check, EW_NOTE, "agreed_limit",
                  "mean piston speed %.1f m/s at %.0f rpm: production engines stay below 20, tuned "
                  "ones run 20 to 25 m/s; pistons, rods and bolts must be meant for it",
                  mean, check->top_speed_rpm);
}

static void add_piston(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  double top = check->top_speed_rpm;
  struct ew_slider_crank crank = ew_slider_crank_of(e);
  double mean = ew_mean_piston_speed_m_s(e->stroke_m, top);
  if (!ew_check_need(check, mean, "piston speeds", "stroke, and agreed_limit or another limit"))
    return;
  ew_check_add(check,
               EW_FIGURE("top_speed", SIZE, "top speed, for the figures below", ROTATIONAL_SPEED,
                         EXACT, "slider-crank"),
               top);
  ew_check_add(
      check,
      EW_FIGURE("mean_piston_speed", SIZE, "mean piston speed", SPEED, EXACT, "slider-crank"),
      mean);
  warn_piston_speed(check, mean);
  if (!ew_check_need(check, crank.rod_m, "piston acceleration, rod tension and pin offset",
                     "geometry.rod_length"))
    return;
  double at;
  double peak = ew_peak_piston_speed_m_s(crank, top, &at);
  ew_check_add(
      check,
      EW_FIGURE("peak_piston_speed", SIZE, "peak piston speed", SPEED, EXACT, "slider-crank"),
      peak);
  ew_check_add(check,
               EW_FIGURE("peak_piston_speed_at", SIZE, "  after top dead centre", ANGLE, EXACT,
                         "slider-crank"),
               at);
  ew_check_add(check,
               EW_FIGURE("piston_acceleration_tdc_m_s2", SIZE, "piston acceleration at TDC, m/s2",
                         NUMBER, EXACT, "slider-crank"),
               ew_piston_at(crank, 0, top).acceleration_m_s2);
  ew_check_add(check,
               EW_FIGURE("piston_jerk_greatest_m_s3", SIZE, "greatest piston jerk, m/s3", NUMBER,
                         EXACT, "slider-crank"),
               greatest_jerk(crank, top));
  ew_check_add(
      check,
      EW_FIGURE("true_stroke", SIZE, "true stroke with pin offset", LENGTH, EXACT, "slider-crank"),
      ew_slider_crank_stroke_m(crank));
}

static void add_rod_tension(struct ew_engine_check *check) {
  const struct ew_engine_balance *b = &check->engine->balance;
  struct ew_slider_crank crank = ew_slider_crank_of(check->engine);
  double mass = ew_reciprocating_kg(b), top = check->top_speed_rpm;
  double at_top = ew_rod_tension_n(crank, mass, b->rod_big_kg, b->cap_kg, top);
  if (!ew_check_need(check, at_top, "rod tension and bobweight",
                     "masses of piston, pin, rings and both rod ends (balance), rod_length, limit"))
    return;
  double speeds[12], tension[12];
  gsize count = 0;
  for (double speed = ceil(top / 12 / 500) * 500; speed <= top && count < 12;
       speed += ceil(top / 12 / 500) * 500) {
    speeds[count] = speed;
    tension[count++] = ew_rod_tension_n(crank, mass, b->rod_big_kg, b->cap_kg, speed);
  }
  ew_check_add(check,
               EW_FIGURE("reciprocating_mass", "Balance", "reciprocating mass, one cylinder", MASS,
                         EXACT, "balance"),
               mass);
  ew_check_add(check,
               EW_FIGURE("rod_tension_top", "Balance", "rod tension, TDC exhaust, top speed", FORCE,
                         EXACT, "rod tension"),
               at_top);
  ew_check_add_list(check,
                    EW_FIGURE("rod_tension_speeds", "Balance", "rod tension, speeds",
                              ROTATIONAL_SPEED, EXACT, "rod tension"),
                    speeds, count);
  ew_check_add_list(
      check,
      EW_FIGURE("rod_tension", "Balance", "rod tension by speed", FORCE, EXACT, "rod tension"),
      tension, count);
  ew_check_add(check,
               EW_FIGURE("bobweight", "Balance", "bobweight, one pin, at the share stated", MASS,
                         EXACT, "balance"),
               ew_bobweight_kg(b));
}

static void add_firing(struct ew_engine_check *check, const struct ew_cylinder_place *places) {
  double intervals[EW_CYLINDERS_MAX], throws[EW_CYLINDERS_MAX];
  gsize count = (gsize)check->engine->cylinders;
  ew_firing_intervals(check->engine, places, intervals);
  for (gsize i = 0; i < count; i++)
    throws[i] = ew_throw_deg(places[i]);
  ew_check_add_list(
      check, EW_FIGURE("firing_intervals", "Balance", "firing intervals", ANGLE, EXACT, "balance"),
      intervals, count);
  ew_check_add_list(check,
                    EW_FIGURE("crank_throws", "Balance",
                              "crank throws, cylinder by cylinder, from the middle of the vee",
                              ANGLE, EXACT, "balance"),
                    throws, count);
}

static void add_shaking(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  struct ew_cylinder_place places[EW_CYLINDERS_MAX];
  gboolean assumed;
  double mass = ew_reciprocating_kg(&e->balance), w = check->top_speed_rpm * G_PI / 30;
  if (!ew_cylinder_places(e, places, &assumed)) {
    ew_check_need(check, NAN, "firing intervals and shaking forces", "geometry.firing_order");
    return;
  }
  if (assumed)
    ew_check_warn(
        check, EW_NOTE, "geometry.banks",
        "banks are not given: odd cylinders are taken to stand in one, even in the other");
  add_firing(check, places);
  double primary = mass * e->stroke_m / 2 * w * w;
  double secondary = primary * e->stroke_m / 2 / e->geometry.rod_length_m;
  struct ew_shaking shaking = ew_shaking_of(places, (gsize)e->cylinders);
  ew_check_add(check,
               EW_FIGURE("shaking_primary", "Balance", "free primary force, top speed", FORCE,
                         ESTIMATE, "balance"),
               shaking.primary * primary);
  ew_check_add(
      check,
      EW_FIGURE("shaking_secondary", "Balance", "free secondary force", FORCE, ESTIMATE, "balance"),
      shaking.secondary * secondary);
  ew_check_add(check,
               EW_FIGURE("shaking_primary_moment", "Balance",
                         "primary moment before counterweights", TORQUE, ESTIMATE, "balance"),
               shaking.primary_moment_m * primary);
  ew_check_add(check,
               EW_FIGURE("shaking_secondary_moment", "Balance", "secondary moment", TORQUE,
                         ESTIMATE, "balance"),
               shaking.secondary_moment_m * secondary);
}

static void warn_idle(struct ew_engine_check *check) {
  double idle = check->engine->idle_speed_rpm;
  for (gsize i = 0; i < check->barred_count; i++) {
    const struct ew_barred_range *r = &check->barred[i];
    if (r->strong && idle >= r->from_rpm && idle <= r->to_rpm)
      ew_check_warn(check, EW_DANGER, "idle_speed",
                    "idle at %.0f rpm stands on a torsional resonance of engine, coupling and "
                    "absorber: order %.3g is critical at %.0f rpm, keep out of %.0f to %.0f. Idle "
                    "at %.0f rpm or more, or fit another coupling; a coupling that shakes here can "
                    "come apart. The coupling maker's figures come before this estimate",
                    idle, r->order, r->critical_rpm, r->from_rpm, r->to_rpm,
                    ceil(r->to_rpm / 50) * 50);
  }
}

/* A critical speed near idle is passed; one in the working range has to be borne. */
static void warn_running_range(struct ew_engine_check *check) {
  double idle = check->engine->idle_speed_rpm;
  for (gsize i = 0; i < check->barred_count; i++) {
    const struct ew_barred_range *r = &check->barred[i];
    if (!r->strong || r->from_rpm <= idle)
      continue;
    gboolean near_idle = r->critical_rpm < 2 * idle;
    ew_check_warn(
        check, EW_CAUTION, "torsion.coupling_stiffness",
        "order %.3g of the shaft line is critical at %.0f rpm, above idle: %s %.0f to %.0f "
        "rpm%s",
        r->order, r->critical_rpm, near_idle ? "pass through" : "no dwelling from", r->from_rpm,
        r->to_rpm,
        near_idle ? " without load and without stopping there"
                  : ", and have the coupling's maker say that its damping bears it under load");
  }
}

static void warn_limits(struct ew_engine_check *check) {
  const char *which;
  double lowest = ew_engine_lowest_limit_rpm(check->engine, &which), top = check->top_speed_rpm;
  if (top > 0.97 * lowest)
    ew_check_warn(
        check, top > lowest ? EW_DANGER : EW_CAUTION, "agreed_limit",
        "the agreed limit of %.0f rpm is more than 97 %% of the limit of the %s, %.0f rpm "
        "(common practice, no source)",
        top, which, lowest);
}

static void add_torsion(struct ew_engine_check *check) {
  double frequencies[EW_TORSION_MAX];
  gsize count = ew_torsion_of(check->engine, frequencies);
  if (!ew_check_need(check, count ? check->top_speed_rpm : NAN,
                     "critical speeds of the test stand's shaft line",
                     "inertia, torsion.coupling_stiffness, torsion.absorber_inertia, and a limit"))
    return;
  ew_check_add_list(check,
                    EW_FIGURE("torsional_frequencies", "Shaft line",
                              "torsional natural frequencies", FREQUENCY, ESTIMATE, "torsion"),
                    frequencies, count);
  check->barred_count = ew_barred_ranges(check->engine, frequencies, count, check->top_speed_rpm,
                                         check->barred, EW_BARRED_MAX);
  warn_idle(check);
  if (!isnan(check->engine->idle_speed_rpm))
    warn_running_range(check);
}

void ew_check_size(struct ew_engine_check *check) {
  add_size(check);
  warn_limits(check);
  add_piston(check);
  add_rod_tension(check);
  add_shaking(check);
  add_torsion(check);
}
