/* Compression against cam and fuel in the check: too little as well as too much. The figures are those of compression_advice.h. */
#include "base/language.h"
#include "engine/check_parts.h"
#include "engine/compression.h"
#include "engine/compression_advice.h"
#include <math.h>

#define SECTION EW_TEXT("Compression")
#define SHORT   0.5 /* of effective ratio below what is usual, before a word is said */

EW_MESSAGE(low_for_cam, "engine.compression-low-for-cam", EW_NOTE,
           "compression {ratio} is low for this cam: the inlet closes {closes} after bottom dead "
           "centre, which leaves an effective ratio of "
           "{effective} and some {cranking} of cranking pressure, where 7.5 to 8.5 and 10 to 12.5 "
           "bar are usual on petrol (common practice, no "
           "source). {wanted} would be worth about {gain} of torque (half of that either way). Or "
           "keep the "
           "compression and take a cam that closes {earlier} earlier. Predict says at which "
           "speeds, and what spark can bring back");
EW_MESSAGE(low_fuel_limits, "engine.compression-low-fuel-limits", EW_NOTE,
           "compression {ratio} is low for this cam (effective ratio {effective}; 7.5 to 8.5 is "
           "usual on petrol: common practice, no "
           "source), and this fuel is comfortable only up to {easy}: fit a cam that closes "
           "earlier, or use better fuel");
EW_MESSAGE(earlier_unknown, "engine.no-earlier-closing", EW_NOTE, "much");

static void add_range(struct ew_engine_check *check, const struct ew_figure *about, double low,
                      double high) {
  const double range[] = {low, high};
  ew_check_add_list(check, about, range, 2);
}

static void add_figures(struct ew_engine_check *check, const struct ew_compression_advice *a) {
  add_range(check,
            EW_FIGURE("ratio_fuel_stands", SECTION, "this fuel stands, easily and at the edge",
                      NUMBER, ESTIMATE, EW_TEXT("compression against cam and fuel")),
            a->fuel_easy_ratio, a->fuel_edge_ratio);
  add_range(check,
            EW_FIGURE("ratio_cam_wants", SECTION, "this cam wants, on petrol", NUMBER, ESTIMATE,
                      EW_TEXT("compression against cam and fuel")),
            a->cam_low_ratio, a->cam_high_ratio);
  add_range(check,
            EW_FIGURE("closing_ratio_wants", SECTION, "this ratio wants an inlet closing after BDC",
                      ANGLE, ESTIMATE, EW_TEXT("compression against cam and fuel")),
            a->closes_early_deg, a->closes_late_deg);
}

static void warn_low(struct ew_engine_check *check, const struct ew_compression_advice *a,
                     double ratio, double effective, double closes) {
  double air = check->engine->breathing.air_pressure_pa;
  double cranking = ew_cranking_pressure_pa(air, effective, EW_CRANKING_EXPONENT);
  double earlier = closes - a->closes_late_deg;
  if (a->wanted_ratio < ratio + SHORT) {
    ew_check_warn(check, "compression",
                  ew_message(&low_fuel_limits, ew_say_figure("ratio", ratio, 1),
                             ew_say_figure("effective", effective, 1),
                             ew_say_figure("easy", a->fuel_easy_ratio, 1)));
    return;
  }
  ew_check_warn(check, "compression",
                ew_message(&low_for_cam, ew_say_figure("ratio", ratio, 1),
                           ew_say_quantity("closes", EW_KIND_ANGLE, closes, 0),
                           ew_say_figure("effective", effective, 1),
                           ew_say_quantity("cranking", EW_KIND_PRESSURE_GAUGE, cranking, 0),
                           ew_say_figure("wanted", a->wanted_ratio, 1),
                           ew_say_share_change("gain", a->torque_gain, 0),
                           isnan(earlier) ? ew_say_word("earlier", &earlier_unknown)
                                          : ew_say_quantity("earlier", EW_KIND_ANGLE, earlier, 0)));
}

void ew_check_advice(struct ew_engine_check *check, const struct ew_fuel_case *fuel) {
  const struct ew_engine *e = check->engine;
  if (!check->has_events[0] || e->strokes != 0)
    return;
  double closes = check->events[0].inlet_closes_abdc_deg, ratio = ew_compression_ratio(e, 0);
  struct ew_compression_advice a = ew_compression_advice_of(e, 0, closes, fuel);
  check->advice = a;
  if (isnan(a.cam_low_ratio))
    return;
  add_figures(check, &a);
  double effective = ew_effective_compression_ratio(e, 0, closes);
  if (effective < EW_EFFECTIVE_LOW - SHORT)
    warn_low(check, &a, ratio, effective, closes);
}
