/* One cell, one face of the pipes: steps 1, 3, 4 and 6 of pipes.h. Compiled once per vector level by pipe_kernel.c and as OpenCL C
 * by opencl.c: one source, so that the bits cannot drift.
 *
 * Notation: q = (rho, u, p, Yb, Yf); l and r are the states left and right of a face; s wave speeds.
 * HLLC: Toro, Spruce, Speares 1994; Toro ch. 10, with the wave speeds of Davis 1988.
 *
 * Whoever includes it has defined what lane_math.h needs, load and store, S (as V, or wider: what is added to step by step) with load_sum,
 * store_sum, added, divided and narrowed, ew_row (where a row of figures lies) and ew_field (one that does not outlive the step), struct ew_pipes, ew_temperature,
 * the gas of a lane by ew_gas_energy, ew_gas_constant, ew_gas_coldest and ew_gas_hottest, and ew_live. */
#pragma once

/* Energy of the mixture as a polynomial in tau = T/1000 K. */
struct mixture {
  V c[EW_GAS_TERMS];
};

INLINE struct mixture mix(const struct ew_pipes *p, int lane, V burned, V fuel) {
  struct mixture m;
  for (int i = 0; i < EW_GAS_TERMS; i++)
    m.c[i] = load(ew_gas_energy(p, 0, i, lane)) + burned * load(ew_gas_energy(p, 1, i, lane)) +
             fuel * load(ew_gas_energy(p, 2, i, lane));
  return m;
}

INLINE V energy_at(const struct mixture *m, V tau) {
  V s = m->c[EW_GAS_TERMS - 1];
  for (int i = EW_GAS_TERMS - 2; i >= 0; i--)
    s = s * tau + m->c[i];
  return s;
}

INLINE V slope_at(const struct mixture *m, V tau) {
  V s = (double)(EW_GAS_TERMS - 1) * m->c[EW_GAS_TERMS - 1];
  for (int i = EW_GAS_TERMS - 2; i >= 1; i--)
    s = s * tau + (double)i * m->c[i];
  return s;
}

INLINE V part_at(const struct ew_pipes *p, int part, int lane, V tau) {
  V s = load(ew_gas_energy(p, part, EW_GAS_TERMS - 1, lane));
  for (int i = EW_GAS_TERMS - 2; i >= 0; i--)
    s = s * tau + load(ew_gas_energy(p, part, i, lane));
  return s;
}

INLINE V constant_of(const struct ew_pipes *p, int lane, V burned, V fuel) {
  return load(ew_gas_constant(p, 0, lane)) + burned * load(ew_gas_constant(p, 1, lane)) +
         fuel * load(ew_gas_constant(p, 2, lane));
}

INLINE void primitives_of(struct ew_pipes *p, gsize e, int lane, V *rate) {
  V mass = load(p->conserved[EW_MASS] + e), inverse = 1 / mass;
  V rho = mass * load(p->inverse_volume + e), u = load(p->conserved[EW_MOMENTUM] + e) * inverse;
  V yb = load(p->conserved[EW_BURNED] + e) * inverse,
    yf = load(p->conserved[EW_FUEL] + e) * inverse;
  V energy = load(p->conserved[EW_ENERGY] + e) * inverse - 0.5 * u * u;
  struct mixture m = mix(p, lane, yb, yf);
  V tau = 1e-3 * load(ew_temperature(p) + e), cold = load(ew_gas_coldest(p, lane));
  V hot = load(ew_gas_hottest(p, lane)), steep = 1 / slope_at(&m, tau);
  tau = clamp(tau - (energy_at(&m, tau) - energy) * steep, cold, hot);
  V slope = slope_at(&m, tau);
  steep = steep * (2 - slope * steep); /* 1 / slope, to second order */
  tau = clamp(tau - (energy_at(&m, tau) - energy) * steep, cold, hot);
  V r = constant_of(p, lane, yb, yf), cv = 1e-3 * slope, t = 1e3 * tau;
  V gamma = 1 + r / cv;
  store(p->primitive[EW_DENSITY] + e, rho);
  store(p->primitive[EW_VELOCITY] + e, u);
  store(p->primitive[EW_PRESSURE] + e, rho * r * t);
  store(p->primitive[EW_SHARE_BURNED] + e, yb);
  store(p->primitive[EW_SHARE_FUEL] + e, yf);
  store(p->primitive[EW_SPECIFIC_ENERGY] + e, energy);
  store(ew_temperature(p) + e, t);
  store(p->primitive[EW_GAMMA] + e, gamma);
  store(p->primitive[EW_CV] + e, cv);
  store(p->primitive[EW_ENERGY_BY_BURNED] + e, part_at(p, 1, lane, tau));
  store(p->primitive[EW_ENERGY_BY_FUEL] + e, part_at(p, 2, lane, tau));
  V c = root(gamma * r * t);
  store(p->primitive[EW_SOUND] + e, c);
  store(p->primitive[EW_HALF_BY_SOUND] + e, 0.5 / c);
  *rate = most(*rate, (absolute(u) + c) * load(p->inverse_length + e));
}

/* Monotonised central limiter (van Leer 1977). */
INLINE V limited(V back, V ahead) {
  V centre = 0.5 * (back + ahead);
  V size = least(2 * least(absolute(back), absolute(ahead)), absolute(centre));
  V with_sign = of_bits(bits_of(size) | (bits_of(centre) & INT64_MIN));
  return pick(over(back * ahead, splat(0)), with_sign, splat(0));
}

INLINE void predict_cell(struct ew_pipes *p, gsize e, int lane, V step) {
  int s = p->stride;
  V q[EW_RECONSTRUCTED], d[EW_RECONSTRUCTED];
  for (int k = 0; k < EW_RECONSTRUCTED; k++) {
    ew_field w = p->primitive[k] + e;
    q[k] = load(w);
    d[k] = limited(q[k] - load(w - s), load(w + s) - q[k]);
  }
  V rho = q[EW_DENSITY], u = q[EW_VELOCITY], pr = q[EW_PRESSURE];
  V gamma = load(p->primitive[EW_GAMMA] + e);
  V h = 0.5 * step * load(p->inverse_length + e); /* dt / (2 dx) */
  V spread = h * d[EW_VELOCITY] + 0.5 * step * u * load(p->area_slope + e);
  V middle[EW_RECONSTRUCTED] = {
      rho - h * u * d[EW_DENSITY] - rho * spread,
      u - h * (u * d[EW_VELOCITY] + d[EW_PRESSURE] / rho),
      pr - h * u * d[EW_PRESSURE] - gamma * pr * spread,
      q[EW_SHARE_BURNED] - h * u * d[EW_SHARE_BURNED],
      q[EW_SHARE_FUEL] - h * u * d[EW_SHARE_FUEL],
  };
  V low_rho = middle[EW_DENSITY] - 0.5 * absolute(d[EW_DENSITY]);
  V low_p = middle[EW_PRESSURE] - 0.5 * absolute(d[EW_PRESSURE]);
  M safe = over(low_rho, 0.1 * rho) & over(low_p, 0.1 * pr); /* else first order here */
  V t = load(ew_temperature(p) + e), cv = load(p->primitive[EW_CV] + e);
  V by_burned = load(p->primitive[EW_ENERGY_BY_BURNED] + e);
  V by_fuel = load(p->primitive[EW_ENERGY_BY_FUEL] + e);
  V energy = load(p->primitive[EW_SPECIFIC_ENERGY] + e);
  V c = load(p->primitive[EW_SOUND] + e), half_by_c = load(p->primitive[EW_HALF_BY_SOUND] + e);
  for (int side = 0; side < 2; side++) {
    ew_field const *face = side ? p->right : p->left;
    V w[EW_RECONSTRUCTED];
    for (int k = 0; k < EW_RECONSTRUCTED; k++) {
      w[k] = pick(safe, side ? middle[k] + 0.5 * d[k] : middle[k] - 0.5 * d[k], q[k]);
      store(face[k] + e, w[k]);
    }
    V r = constant_of(p, lane, w[EW_SHARE_BURNED], w[EW_SHARE_FUEL]);
    V face_t = w[EW_PRESSURE] / (w[EW_DENSITY] * r);
    store(face[EW_SOUND] + e, c + (gamma * r * face_t - c * c) * half_by_c);
    store(face[EW_SPECIFIC_ENERGY] + e, energy + cv * (face_t - t) +
                                            by_burned * (w[EW_SHARE_BURNED] - q[EW_SHARE_BURNED]) +
                                            by_fuel * (w[EW_SHARE_FUEL] - q[EW_SHARE_FUEL]));
  }
}

struct side {
  V rho, u, p, yb, yf, c, energy; /* energy: total, J/kg */
  V mass, s; /* flux through the moving wave rho (s - u), and the wave speed s */
};

INLINE struct side side_of(ew_field const *state, gsize e) {
  struct side s;
  s.rho = load(state[EW_DENSITY] + e);
  s.u = load(state[EW_VELOCITY] + e);
  s.p = load(state[EW_PRESSURE] + e);
  s.yb = load(state[EW_SHARE_BURNED] + e);
  s.yf = load(state[EW_SHARE_FUEL] + e);
  s.c = load(state[EW_SOUND] + e);
  s.energy = load(state[EW_SPECIFIC_ENERGY] + e) + 0.5 * s.u * s.u;
  return s;
}

INLINE void riemann_face(struct ew_pipes *p, gsize e) {
  gsize back = e - p->stride;
  struct side l = side_of(p->right, back), r = side_of(p->left, e), k;
  l.s = least(l.u - l.c, r.u - r.c);
  r.s = most(l.u + l.c, r.u + r.c);
  l.mass = l.rho * (l.s - l.u);
  r.mass = r.rho * (r.s - r.u);
  V star = (r.p - l.p + l.u * l.mass - r.u * r.mass) / (l.mass - r.mass);
  M from_left = over(star, splat(0)); /* the side whose gas crosses the face */
  k.rho = pick(from_left, l.rho, r.rho);
  k.u = pick(from_left, l.u, r.u);
  k.p = pick(from_left, l.p, r.p);
  k.energy = pick(from_left, l.energy, r.energy);
  k.mass = pick(from_left, l.mass, r.mass);
  k.s = pick(from_left, l.s, r.s);
  M inner = (from_left & over(splat(0), l.s)) |
            (~from_left & over(r.s, splat(0))); /* face inside the star region */
  V f_mass = k.rho * k.u, f_momentum = f_mass * k.u + k.p;
  V k_total = k.rho * k.energy, f_energy = (k_total + k.p) * k.u;
  V gap = 1 / (k.s - star), density = k.mass * gap, ahead = star - k.u;
  V total = density * (k.energy + ahead * star) + ahead * k.p * gap;
  V mass = pick(inner, f_mass + k.s * (density - k.rho), f_mass);
  V momentum = pick(inner, f_momentum + k.s * (density * star - f_mass), f_momentum);
  V energy = pick(inner, f_energy + k.s * (total - k_total), f_energy);
  V area = load(p->area_m2 + e);
  mass = area * mass;
  M donor = over(mass, splat(0));
  store(p->flux[EW_MASS] + e, mass);
  store(p->flux[EW_MOMENTUM] + e, area * momentum);
  store(p->flux[EW_ENERGY] + e, area * energy);
  store(p->flux[EW_BURNED] + e, mass * pick(donor, l.yb, r.yb));
  store(p->flux[EW_FUEL] + e, mass * pick(donor, l.yf, r.yf));
}

INLINE V masked(I live, V x) {
  return of_bits(bits_of(x) & live);
}

#define PRANDTL        0.707
#define PRANDTL_TO_2_3 0.7937
/* Sutherland's viscosity of air as a cubic in T/1000 K: within 4 % from 200 K to 2,500 K. */
#define VISCOSITY_0 3.540601e-06
#define VISCOSITY_1 5.495473e-05
#define VISCOSITY_2 -2.022529e-05
#define VISCOSITY_3 3.601002e-06

/* Friction: Blasius, Fanning, with a floor for rough pipes; Re + 1 in place of Re.
 * Heat: Reynolds analogy, not below Nu = 4. */
INLINE void update_cell(struct ew_pipes *p, gsize e, V step,
                        const struct ew_pipe_physics *physics) {
  int s = p->stride;
  I live = ew_live(p, e);
  S amount[EW_CONSERVED];
  for (int k = 0; k < EW_CONSERVED; k++) {
    V in = load(p->flux[k] + e) - load(p->flux[k] + e + s);
    if (k == EW_MOMENTUM)
      in = in +
           load(p->primitive[EW_PRESSURE] + e) * (load(p->area_m2 + e + s) - load(p->area_m2 + e));
    amount[k] = added(load_sum(p->conserved[k] + e), masked(live, step * in));
  }
  V t = load(ew_temperature(p) + e), cv = load(p->primitive[EW_CV] + e);
  V cp = load(p->primitive[EW_GAMMA] + e) * cv, rho = load(p->primitive[EW_DENSITY] + e);
  V thin = load(p->inverse_diameter + e), tau = 1e-3 * t;
  V speed = absolute(load(p->primitive[EW_VELOCITY] + e));
  V viscosity = ((VISCOSITY_3 * tau + VISCOSITY_2) * tau + VISCOSITY_1) * tau + VISCOSITY_0;
  V mass_flux = rho * speed, lag = viscosity * thin;
  V f = most(splat(0.004), 0.0791 * root(root(lag / (mass_flux + lag))));
  V drag = (2 * physics->friction * f * thin + load(p->loss_per_m + e)) * speed;
  amount[EW_MOMENTUM] = divided(amount[EW_MOMENTUM], 1 + masked(live, drag * step));
  V still = (4 / PRANDTL) * viscosity * cp * thin; /* Nu = 4 */
  V h = most(still, f * mass_flux * cp * (0.5 / PRANDTL_TO_2_3));
  V conductance = physics->heat * h * load(p->wall_m2 + e) * load(p->heat_factor + e) * step;
  V most_heat = 0.5 * narrowed(amount[EW_MASS]) * cv; /* at most half the gap in a step */
  V heat = masked(live, least(conductance, most_heat) * (load(p->wall_k + e) - t));
  amount[EW_ENERGY] = added(amount[EW_ENERGY], heat);
  store(p->heat_j + e, load(p->heat_j + e) + heat);
  store(p->conductance + e, load(p->conductance + e) + conductance);
  store(p->conductance_k + e, load(p->conductance_k + e) + conductance * t);
  for (int k = 0; k < EW_CONSERVED; k++)
    store_sum(p->conserved[k] + e, amount[k]);
}
