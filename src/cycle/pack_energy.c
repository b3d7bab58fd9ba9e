/* Where the fuel's heat went in one cycle, and what a thermocouple in the exhaust would read.
 *
 *   fuel's heating value = brake + friction + pumping + walls + unburned + exhaust
 *
 * Brake and friction come of the work on the pistons, pumping of its part in the inlet and exhaust strokes, walls of the cylinders' sums.
 * Exhaust is what left by the mouths and the walls of the pipes (summed there, not here as a remainder) or still warms a silencer, less what
 * left unburned and less the pumping work that became heat again; so the sheet adds up only as far as energy was kept: energy.unexplained.
 * Unburned is the heating value of fuel, and of carbon monoxide and hydrogen of a rich mixture, that went out: heating value and latent heat of
 * the fuel, less what turned into burned gas times the heat that this sets free at 25 degC.
 *
 * A thermocouple takes heat from the gas and gives some to the pipe's wall by radiation (docs/methods-cycle.md, 5). */
#include "base/elementary.h"
#include "cycle/pack_parts.h"

#define REFERENCE_K      298.15
#define PROBE_M          0.1   /* after the exhaust valve's seat */
#define PROBE_WIRE_M     0.003 /* diameter of its sheath */
#define PROBE_EMISSIVITY 0.8   /* oxidised; common practice */
#define STEFAN_BOLTZMANN 5.670374419e-8
#define PASSES           60

/* Heat set free at 25 degC by a kilogram of fresh charge that becomes burned gas, J. */
static double heat_of_burning_j_kg(const struct ew_working_gas *gas) {
  double share = gas->fuel_share, burned = ew_working_gas_energy(gas, 1, 0, REFERENCE_K),
         fresh = ew_working_gas_energy(gas, 0, share, REFERENCE_K);
  return fresh - burned +
         (ew_working_gas_constant(gas, 0, share) - ew_working_gas_constant(gas, 1, 0)) *
             REFERENCE_K;
}

struct ew_cycle_energy ew_energy_of(const struct ew_cycle_laid *laid, const struct ew_sums *s,
                                    double friction_j) {
  const struct ew_combustible *fuel = &laid->gas.fuel;
  double supplied = s->fuel * fuel->lower_heating_value_j_kg;
  if (!(supplied > 0))
    return (struct ew_cycle_energy){NAN, NAN, NAN, NAN, NAN, NAN, NAN};
  double pumping = -s->pumping;
  double unburned = s->fuel * (fuel->lower_heating_value_j_kg + fuel->latent_heat_j_kg) -
                    s->burned * heat_of_burning_j_kg(&laid->gas);
  double left = supplied - s->energy_in - s->pipe_heat + s->energy_stored;
  struct ew_cycle_energy e = {.brake = (s->work - friction_j) / supplied,
                              .friction = friction_j / supplied,
                              .pumping = pumping / supplied,
                              .walls = s->heat / supplied,
                              .unburned = unburned / supplied,
                              .exhaust = (left - unburned - pumping) / supplied};
  e.unexplained = 1 - (e.brake + e.friction + e.pumping + e.walls + e.unburned + e.exhaust);
  return e;
}

/* The cell of a pipe that lies so far from its valve. */
static int probe_cell(const struct ew_cycle_laid *laid, int pipe) {
  g_assert(pipe >= 0 && laid->count[pipe] > 0);
  const struct ew_plan_pipe *p = &ew_plan_pipes(laid->plan)[pipe];
  int n = laid->count[pipe], at = CLAMP((int)(PROBE_M / p->length_m * n), 0, n - 1);
  return p->end[0].kind == EW_END_VALVE ? at : n - 1 - at;
}

/* Where as much heat comes as goes: h (gas - t) = emissivity sigma (t^4 - wall^4); h after Hilpert for a cylinder across the mean flow,
 * Nu = 0.683 Re^0.466 (Re 40 to 4,000; from memory). */
static double probe_k(double gas_k, double wall_k, double flow_kg_m2_s) {
  double viscosity = 3.3e-7 * ew_exp(0.7 * ew_log(gas_k)),
         conductivity = viscosity * 1200 / 0.7; /* cp 1.2 kJ/(kg K), Prandtl number 0.7 */
  double reynolds = fmax(flow_kg_m2_s * PROBE_WIRE_M / viscosity, 1);
  double h = 0.683 * ew_exp(0.466 * ew_log(reynolds)) * conductivity / PROBE_WIRE_M;
  double low = fmin(gas_k, wall_k), high = fmax(gas_k, wall_k);
  for (int i = 0; i < PASSES; i++) {
    double t = 0.5 * (low + high);
    double gained = h * (gas_k - t) - PROBE_EMISSIVITY * STEFAN_BOLTZMANN *
                                          (t * t * t * t - wall_k * wall_k * wall_k * wall_k);
    *(gained > 0 ? &low : &high) = t;
  }
  return 0.5 * (low + high);
}

double ew_exhaust_reading_k(const struct ew_pack *pack, int l, double out_kg_s) {
  g_assert(l >= 0 && l < EW_LANES);
  const struct ew_cycle_laid *laid = pack->lane[l].laid;
  const struct ew_plan_pipe *pipe = ew_plan_pipes(laid->plan);
  double sum = 0;
  int probes = 0;
  for (int i = 0; i < laid->pipes; i++) {
    if (!pipe[i].exhaust ||
        (pipe[i].end[0].kind != EW_END_VALVE && pipe[i].end[1].kind != EW_END_VALVE))
      continue;
    int cell = probe_cell(laid, i), part = ew_state_cell(pack->state, i, cell);
    double conductance = ew_state_at(pack->state, EW_STATE_CELLS, EW_CELL_CONDUCTANCE, part)[l];
    double gas = ew_state_at(pack->state, EW_STATE_CELLS, EW_CELL_CONDUCTANCE_K, part)[l];
    double wall = ew_state_at(pack->state, EW_STATE_CELLS, EW_CELL_WALL, part)[l];
    double d = laid->face_diameter_m[laid->first[i] + i + cell];
    if (!(conductance > 0 && wall > 0))
      continue;
    sum += probe_k(gas / conductance, wall, out_kg_s / pack->state->cylinders / (G_PI / 4 * d * d));
    probes++;
  }
  return probes > 0 ? sum / probes : NAN;
}
