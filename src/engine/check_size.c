/* Size, speeds of the piston, balance and the shaft line. */
#include "base/language.h"
#include "engine/balance.h"
#include "engine/check_parts.h"
#include "engine/compression.h"
#include "engine/slider_crank.h"
#include <math.h>

#define SIZE    EW_TEXT("Size and piston")
#define BALANCE EW_TEXT("Balance")

EW_MESSAGE(
    displacement_off, "engine.displacement-off", EW_NOTE,
    "the stated displacement of {stated} is {off} off the {computed} that bore and stroke give, "
    "which is used");
EW_MESSAGE(rod_ratio, "engine.rod-ratio", EW_NOTE,
           "rod ratio {ratio} is outside the usual 1.5 to 1.9 (common practice, no source)");
EW_MESSAGE(piston_racing, "engine.piston-speed-racing", EW_CAUTION,
           "the mean piston speed is {speed} at {rpm}: above 25 m/s only racing engines with short "
           "lives run (common practice, no source)");
EW_MESSAGE(piston_tuned, "engine.piston-speed-tuned", EW_NOTE,
           "the mean piston speed is {speed} at {rpm}: production engines stay below 20 m/s, tuned "
           "ones run at 20 to 25 m/s; pistons, rods and bolts must be made for it");
EW_MESSAGE(banks_assumed, "engine.banks-assumed", EW_NOTE,
           "banks are not given: odd cylinders are assumed to be in one, even ones in the other");
EW_MESSAGE(
    idle_critical, "engine.idle-critical", EW_DANGER,
    "idling at {idle} is on a torsional resonance of engine, coupling and absorber: order "
    "{order} is critical at {critical}; keep out of {from} to {to}. Idle at {safe} or faster, "
    "or fit another coupling; a coupling that shakes here can come apart. The coupling maker's "
    "figures come before this estimate");
EW_MESSAGE(
    critical_near_idle, "engine.critical-near-idle", EW_CAUTION,
    "order {order} of the shaft line is critical at {critical}, above idle: pass through {from} "
    "to {to} without load and without stopping there");
EW_MESSAGE(
    critical_in_range, "engine.critical-in-range", EW_CAUTION,
    "order {order} of the shaft line is critical at {critical}, above idle: do not dwell from "
    "{from} to {to}, and have the coupling's maker confirm that its damping withstands it under "
    "load");
EW_MESSAGE(limit_above, "engine.limit-above", EW_DANGER,
           "the agreed limit of {agreed} is above the lowest limit of a part: {lowest} ({part})");
EW_MESSAGE(limit_near, "engine.limit-near", EW_CAUTION,
           "the agreed limit of {agreed} is more than 97 % of the lowest limit of a part: {lowest} "
           "({part}; common practice, no source)");

EW_MESSAGE(needs_displacement, "engine.needs-displacement", EW_NOTE,
           "displacement: needs bore and stroke, or displacement");
EW_MESSAGE(needs_piston_speed, "engine.needs-piston-speed", EW_NOTE,
           "piston speeds: need stroke, and agreed_limit or another limit");
EW_MESSAGE(needs_rod, "engine.needs-rod", EW_NOTE,
           "piston acceleration, rod tension and pin offset: need geometry.rod_length");
EW_MESSAGE(needs_masses, "engine.needs-masses", EW_NOTE,
           "rod tension and bobweight: need the masses of piston, pin, rings and both rod ends "
           "(balance), rod_length and a limit");
EW_MESSAGE(needs_firing, "engine.needs-firing-order", EW_NOTE,
           "firing intervals and shaking forces: need geometry.firing_order");
EW_MESSAGE(
    needs_torsion, "engine.needs-torsion", EW_NOTE,
    "critical speeds of the test stand's shaft line: need inertia, torsion.coupling_stiffness, "
    "torsion.absorber_inertia and a limit");

static void warn_displacement(struct ew_engine_check *check, double computed) {
  double stated = check->engine->displacement_stated_m3;
  if (fabs(computed / stated - 1) > 0.02)
    ew_check_warn(check, "displacement",
                  ew_message(&displacement_off,
                             ew_say_quantity("stated", EW_KIND_VOLUME, stated, 0),
                             ew_say_share("off", fabs(computed / stated - 1), 1),
                             ew_say_quantity("computed", EW_KIND_VOLUME, computed, 0)));
}

static void add_size(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  double displacement = ew_engine_displacement_m3(e);
  ew_check_need(check, displacement, &needs_displacement);
  warn_displacement(check, displacement);
  ew_check_add(
      check,
      EW_FIGURE("displacement", SIZE, "displacement", VOLUME, EXACT, EW_TEXT("displacement")),
      displacement);
  ew_check_add(
      check,
      EW_FIGURE("swept_volume", SIZE, "one cylinder", VOLUME, EXACT, EW_TEXT("displacement")),
      ew_swept_volume_m3(e));
  ew_check_add(check,
               EW_FIGURE("bore_over_stroke", SIZE, "bore over stroke", NUMBER, EXACT,
                         EW_TEXT("displacement")),
               e->bore_m / e->stroke_m);
  double ratio = e->geometry.rod_length_m / e->stroke_m;
  ew_check_add(
      check,
      EW_FIGURE("rod_ratio", SIZE, "rod over stroke", NUMBER, EXACT, EW_TEXT("slider-crank")),
      ratio);
  if (ratio < 1.5 || ratio > 2.0)
    ew_check_warn(check, "geometry.rod_length",
                  ew_message(&rod_ratio, ew_say_figure("ratio", ratio, 2)));
}

static double greatest_jerk(struct ew_slider_crank crank, double speed_rpm) {
  double most = 0;
  for (int angle = 0; angle < 360; angle++)
    most = fmax(most, fabs(ew_piston_at(crank, angle, speed_rpm).jerk_m_s3));
  return most;
}

static void warn_piston_speed(struct ew_engine_check *check, double mean) {
  if (mean > 20)
    ew_check_warn(check, "agreed_limit",
                  ew_message(mean > 25 ? &piston_racing : &piston_tuned,
                             ew_say_quantity("speed", EW_KIND_SPEED, mean, 1),
                             ew_say_rpm("rpm", check->top_speed_rpm)));
}

static void add_piston(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  double top = check->top_speed_rpm;
  struct ew_slider_crank crank = ew_slider_crank_of(e);
  double mean = ew_mean_piston_speed_m_s(e->stroke_m, top);
  if (!ew_check_need(check, mean, &needs_piston_speed))
    return;
  ew_check_add(check,
               EW_FIGURE("top_speed", SIZE, "top speed, for the figures below", ROTATIONAL_SPEED,
                         EXACT, EW_TEXT("slider-crank")),
               top);
  ew_check_add(check,
               EW_FIGURE("mean_piston_speed", SIZE, "mean piston speed", SPEED, EXACT,
                         EW_TEXT("slider-crank")),
               mean);
  warn_piston_speed(check, mean);
  if (!ew_check_need(check, crank.rod_m, &needs_rod))
    return;
  double at;
  double peak = ew_peak_piston_speed_m_s(crank, top, &at);
  ew_check_add(check,
               EW_FIGURE("peak_piston_speed", SIZE, "peak piston speed", SPEED, EXACT,
                         EW_TEXT("slider-crank")),
               peak);
  ew_check_add(check,
               EW_FIGURE("peak_piston_speed_at", SIZE, "  after top dead centre", ANGLE, EXACT,
                         EW_TEXT("slider-crank")),
               at);
  ew_check_add(check,
               EW_FIGURE("piston_acceleration_tdc_m_s2", SIZE, "piston acceleration at TDC", NUMBER,
                         EXACT, EW_TEXT("slider-crank"), .si = "m/s2"),
               ew_piston_at(crank, 0, top).acceleration_m_s2);
  ew_check_add(check,
               EW_FIGURE("piston_jerk_greatest_m_s3", SIZE, "greatest piston jerk", NUMBER, EXACT,
                         EW_TEXT("slider-crank"), .si = "m/s3"),
               greatest_jerk(crank, top));
  ew_check_add(check,
               EW_FIGURE("true_stroke", SIZE, "true stroke with pin offset", LENGTH, EXACT,
                         EW_TEXT("slider-crank")),
               ew_slider_crank_stroke_m(crank));
}

static void add_rod_tension(struct ew_engine_check *check) {
  const struct ew_engine_balance *b = &check->engine->balance;
  struct ew_slider_crank crank = ew_slider_crank_of(check->engine);
  double mass = ew_reciprocating_kg(b), top = check->top_speed_rpm;
  double at_top = ew_rod_tension_n(crank, mass, b->rod_big_kg, b->cap_kg, top);
  if (!ew_check_need(check, at_top, &needs_masses))
    return;
  double speeds[12], tension[12];
  gsize count = 0;
  for (double speed = ceil(top / 12 / 500) * 500; speed <= top && count < 12;
       speed += ceil(top / 12 / 500) * 500) {
    speeds[count] = speed;
    tension[count++] = ew_rod_tension_n(crank, mass, b->rod_big_kg, b->cap_kg, speed);
  }
  ew_check_add(check,
               EW_FIGURE("reciprocating_mass", BALANCE, "reciprocating mass, one cylinder", MASS,
                         EXACT, EW_TEXT("balance")),
               mass);
  ew_check_add(check,
               EW_FIGURE("rod_tension_top", BALANCE, "rod tension, TDC exhaust, top speed", FORCE,
                         EXACT, EW_TEXT("rod tension")),
               at_top);
  ew_check_add_list(check,
                    EW_FIGURE("rod_tension_speeds", BALANCE, "rod tension, speeds",
                              ROTATIONAL_SPEED, EXACT, EW_TEXT("rod tension")),
                    speeds, count);
  ew_check_add_list(check,
                    EW_FIGURE("rod_tension", BALANCE, "rod tension by speed", FORCE, EXACT,
                              EW_TEXT("rod tension")),
                    tension, count);
  ew_check_add(check,
               EW_FIGURE("bobweight", BALANCE, "bobweight, one pin, at the share stated", MASS,
                         EXACT, EW_TEXT("balance")),
               ew_bobweight_kg(b));
}

static void add_firing(struct ew_engine_check *check, const struct ew_cylinder_place *places) {
  double intervals[EW_CYLINDERS_MAX], throws[EW_CYLINDERS_MAX];
  gsize count = (gsize)check->engine->cylinders;
  ew_firing_intervals(check->engine, places, intervals);
  for (gsize i = 0; i < count; i++)
    throws[i] = ew_throw_deg(places[i]);
  ew_check_add_list(
      check,
      EW_FIGURE("firing_intervals", BALANCE, "firing intervals", ANGLE, EXACT, EW_TEXT("balance")),
      intervals, count);
  ew_check_add_list(check,
                    EW_FIGURE("crank_throws", BALANCE,
                              "crank throws, cylinder by cylinder, from the middle of the vee",
                              ANGLE, EXACT, EW_TEXT("balance")),
                    throws, count);
}

static void add_shaking(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  struct ew_cylinder_place places[EW_CYLINDERS_MAX];
  gboolean assumed;
  double mass = ew_reciprocating_kg(&e->balance), w = check->top_speed_rpm * G_PI / 30;
  if (!ew_cylinder_places(e, places, &assumed)) {
    ew_check_need(check, NAN, &needs_firing);
    return;
  }
  if (assumed)
    ew_check_warn(check, "geometry.banks", ew_message_plain(&banks_assumed));
  add_firing(check, places);
  double primary = mass * e->stroke_m / 2 * w * w;
  double secondary = primary * e->stroke_m / 2 / e->geometry.rod_length_m;
  struct ew_shaking shaking = ew_shaking_of(places, (gsize)e->cylinders);
  ew_check_add(check,
               EW_FIGURE("shaking_primary", BALANCE, "free primary force, top speed", FORCE,
                         ESTIMATE, EW_TEXT("balance")),
               shaking.primary * primary);
  ew_check_add(check,
               EW_FIGURE("shaking_secondary", BALANCE, "free secondary force", FORCE, ESTIMATE,
                         EW_TEXT("balance")),
               shaking.secondary * secondary);
  ew_check_add(check,
               EW_FIGURE("shaking_primary_moment", BALANCE, "primary moment before counterweights",
                         TORQUE, ESTIMATE, EW_TEXT("balance")),
               shaking.primary_moment_m * primary);
  ew_check_add(check,
               EW_FIGURE("shaking_secondary_moment", BALANCE, "secondary moment", TORQUE, ESTIMATE,
                         EW_TEXT("balance")),
               shaking.secondary_moment_m * secondary);
}

/* Half orders with their half, whole ones without. */
static struct ew_argument say_order(const struct ew_barred_range *r) {
  return ew_say_figure("order", r->order, r->order == floor(r->order) ? 0 : 1);
}

static void warn_idle(struct ew_engine_check *check) {
  double idle = check->engine->idle_speed_rpm;
  for (gsize i = 0; i < check->barred_count; i++) {
    const struct ew_barred_range *r = &check->barred[i];
    if (r->strong && idle >= r->from_rpm && idle <= r->to_rpm)
      ew_check_warn(check, "idle_speed",
                    ew_message(&idle_critical, ew_say_rpm("idle", idle), say_order(r),
                               ew_say_rpm("critical", r->critical_rpm),
                               ew_say_rpm("from", r->from_rpm), ew_say_rpm("to", r->to_rpm),
                               ew_say_rpm("safe", ceil(r->to_rpm / 50) * 50)));
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
    ew_check_warn(check, "torsion.coupling_stiffness",
                  ew_message(near_idle ? &critical_near_idle : &critical_in_range, say_order(r),
                             ew_say_rpm("critical", r->critical_rpm),
                             ew_say_rpm("from", r->from_rpm), ew_say_rpm("to", r->to_rpm)));
  }
}

static void warn_limits(struct ew_engine_check *check) {
  const struct ew_message_kind *which;
  double lowest = ew_engine_lowest_limit_rpm(check->engine, &which), top = check->top_speed_rpm;
  if (top > 0.97 * lowest)
    ew_check_warn(check, "agreed_limit",
                  ew_message(top > lowest ? &limit_above : &limit_near, ew_say_rpm("agreed", top),
                             ew_say_rpm("lowest", lowest), ew_say_word("part", which)));
}

static void add_torsion(struct ew_engine_check *check) {
  double frequencies[EW_TORSION_MAX];
  gsize count = ew_torsion_of(check->engine, frequencies);
  if (!ew_check_need(check, count ? check->top_speed_rpm : NAN, &needs_torsion))
    return;
  ew_check_add_list(check,
                    EW_FIGURE("torsional_frequencies", EW_TEXT("Shaft line"),
                              "torsional natural frequencies", FREQUENCY, ESTIMATE,
                              EW_TEXT("torsion")),
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
