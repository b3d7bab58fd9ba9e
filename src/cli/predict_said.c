/* The tables that engine predict prints. */
#include "base/words.h"
#include "cli/predict_said.h"

void ew_say_prediction(const struct ew_cycle_result *r, int count,
                       const struct ew_cycle_effort *effort, const GPtrArray *notes,
                       enum ew_unit_system units) {
  ew_say("%7s %9s %8s %6s %7s %9s %8s %8s %7s %8s", "rpm", ew_kind_shown(EW_KIND_TORQUE, units),
         ew_kind_shown(EW_KIND_POWER, units), "VE", ew_kind_shown(EW_KIND_SPECIFIC_FUEL, units),
         ew_tr("residual"), ew_tr("peak bar"), ew_tr("spark"), "CA50", ew_tr("knock"));
  gboolean held = FALSE;
  for (int i = 0; i < count; i++) {
    ew_say(
        r[i].converged
            ? EW_TEXT("%7.0f %9.0f %8.1f %6.2f %7.3g %7.1f %% %8.0f %7.1f%s %7.1f %8.2f")
            : EW_TEXT("%7.0f %9.0f %8.1f %6.2f %7.3g %7.1f %% %8.0f %7.1f%s %7.1f %8.2f  DID NOT "
                      "CONVERGE"),
        r[i].speed_rpm, ew_shown(EW_KIND_TORQUE, units, r[i].torque_n_m),
        ew_shown(EW_KIND_POWER, units, r[i].power_w), r[i].volumetric_efficiency,
        ew_shown(EW_KIND_SPECIFIC_FUEL, units, r[i].bsfc_kg_j), 100 * r[i].residual_fraction,
        r[i].peak_pressure_pa / 1e5, r[i].spark_deg, r[i].knock_limited ? "k" : " ", r[i].ca50_deg,
        r[i].knock);
    held |= r[i].knock_limited;
    if (!r[i].converged)
      ew_say("        %s", r[i].reason);
  }
  if (held)
    ew_say("k: spark held back by the knock integral.");
  ew_say("spark: deg BTDC; CA50: deg ATDC at which half the fuel is burnt; knock: 1 is the limit, "
         "a ranking only: prove spark on the dyno, from the safe side");
  ew_say("%d speeds in %.1f s", count, effort->wall_s);
  for (guint i = 0; i < notes->len; i++)
    ew_say("assumed: %s", (char *)g_ptr_array_index(notes, i));
}

void ew_say_energy(const struct ew_cycle_result *r, int count, enum ew_unit_system units) {
  ew_say("\n%7s %8s %9s %8s %8s %9s %8s %10s %12s", "rpm", ew_tr("brake"), ew_tr("friction"),
         ew_tr("pumping"), ew_tr("walls"), ew_tr("unburnt"), ew_tr("exhaust"), ew_tr("bar/deg"),
         ew_tr("exhaust reads"));
  for (int i = 0; i < count; i++) {
    const struct ew_cycle_energy *e = &r[i].energy;
    g_autofree char *reads =
        ew_quantity_format(EW_KIND_TEMPERATURE, units, r[i].exhaust_reading_k, 0);
    ew_say("%7.0f %6.1f %% %7.1f %% %6.1f %% %6.1f %% %7.1f %% %6.1f %% %10.1f %12s",
           r[i].speed_rpm, 100 * e->brake, 100 * e->friction, 100 * e->pumping, 100 * e->walls,
           100 * e->unburned, 100 * e->exhaust, r[i].pressure_rise_pa_deg / 1e5, reads);
  }
  ew_say(
      "shares of the fuel's heating value; exhaust: gas and pipes; bar/deg: the steepest pressure "
      "rise; the exhaust reading is that of a 3 mm thermocouple 100 mm after the valve");
}

void ew_say_doubt(const struct ew_prediction_setup *setup, const double *speed_rpm,
                  const struct ew_doubt *d, enum ew_unit_system units) {
  ew_say("\n%7s %18s", "rpm", ew_tr("torque, ± at 95 %"));
  for (int i = 0; i < d->speeds; i++)
    ew_say("%7.0f %9.1f ± %5.1f %s", speed_rpm[i],
           ew_shown(EW_KIND_TORQUE, units, d->torque_n_m[i]),
           ew_shown(EW_KIND_TORQUE, units, 2 * d->torque_u_n_m[i]),
           ew_kind_shown(EW_KIND_TORQUE, units));
  ew_say("%s", ew_tr(ew_doubt_says(setup)->text));
  for (int i = 0; i < d->narrowings; i++)
    ew_say(i ? EW_TEXT("           measuring %s would remove %.0f %% of the variance")
             : EW_TEXT("narrow it: measuring %s would remove %.0f %% of the variance"),
           d->narrow[i].field, 100 * d->narrow[i].variance_share);
}
