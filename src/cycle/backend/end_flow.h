/* One pipe end at its node, one constant-pressure junction. Method: ends.h. Compiled once per vector level by end_kernel.c and as
 * OpenCL C by opencl.c: one source, so that the bits cannot drift.
 *
 * Notation: i the predicted face state, u positive INTO the pipe, p_w the pressure of the closed end; g = gamma; z = rho c.
 *
 * The flow through an opening grows with the root s of its pressure difference, so Newton's passes go
 * in s: in p they would fall off the root's edge when the flow turns round.
 *
 * In single precision a wide mouth near the turn of its flow has a difference of hundredths of a pascal, less than the pressures themselves can
 * tell: there passes keep to s, never to a difference of pressures, what is remembered is a share of the largest s (1 - p would not leave 1 again),
 * and what a small fall in pressure gives is its series.
 *
 * Whoever includes it has defined what pipe_cell.h needs, ew_ends, ew_indices, ew_let_end (declares a pointer to an end), and ew_take: what the node loses. */
#pragma once

#define PASSES          2
#define JUNCTION_PASSES 4
#ifndef EW_LEAST_TAKEN
#define EW_LEAST_TAKEN 1e-300 /* kg/s, against a division by nothing */
#endif

struct face {
  V rho, u, p, g, r, t, c, z, h, yb, yf; /* h: specific enthalpy */
  V exponent;                            /* (g-1)/(2g) */
  V shock_a, shock_b;                    /* Toro's A and B */
};

INLINE struct face face_of(const struct ew_pipes *pipes, const struct ew_end *end, int lane) {
  int n = pipes->count[end->pipe];
  gsize e = ew_pipes_element(pipes, end->pipe, end->side ? n - 1 : 0, lane);
  ew_field const *s = end->side ? pipes->right : pipes->left;
  struct face f;
  f.rho = load(s[EW_DENSITY] + e);
  f.u = end->side ? -load(s[EW_VELOCITY] + e) : load(s[EW_VELOCITY] + e);
  f.p = load(s[EW_PRESSURE] + e);
  f.yb = load(s[EW_SHARE_BURNED] + e);
  f.yf = load(s[EW_SHARE_FUEL] + e);
  f.g = load(pipes->primitive[EW_GAMMA] + e);
  f.r = load(ew_gas_constant(pipes, 0, lane)) + f.yb * load(ew_gas_constant(pipes, 1, lane)) +
        f.yf * load(ew_gas_constant(pipes, 2, lane));
  f.t = f.p / (f.rho * f.r);
  f.c = root(f.g * f.p / f.rho);
  f.z = f.rho * f.c;
  f.h = load(s[EW_SPECIFIC_ENERGY] + e) + f.p / f.rho;
  f.exponent = (f.g - 1) / (2 * f.g);
  f.shock_a = 2 / ((f.g + 1) * f.rho);
  f.shock_b = (f.g - 1) / (f.g + 1) * f.p;
  return f;
}

/* Velocity behind the wave that brings the face state to pressure p, its slope by p, and
 * x = (p/p_i)^((g-1)/2g). */
struct wave {
  V u, slope, x;
};

INLINE struct wave wave_to(const struct face *f, V p) {
  struct wave w;
  V ratio = p / f->p;
  w.x = exponential(f->exponent * logarithm(ratio));
  V steep = root(f->shock_a / (p + f->shock_b));
  M shock = over(p, f->p);
  w.u = f->u + pick(shock, (p - f->p) * steep, 2 * f->c / (f->g - 1) * (w.x - 1));
  w.slope = pick(shock, steep * (1 - 0.5 * (p - f->p) / (p + f->shock_b)), w.x / (ratio * f->z));
  return w;
}

/* Pressure at the end if it were closed. */
INLINE V closed_pressure(const struct face *f) {
  V base = most(1 - 0.5 * (f->g - 1) * f->u / f->c, splat(0.02));
  V rarefied = f->p * exponential(logarithm(base) / f->exponent);
  V square = f->u * f->u;
  V shocked =
      f->p + (square + root(square * square + 4 * f->shock_a * square * (f->p + f->shock_b))) /
                 (2 * f->shock_a);
  return pick(over(f->u, splat(0)), rarefied, shocked);
}

struct flow {
  V p, u, mass, energy, yb, yf; /* mass kg/(s m2 of pipe), energy W/m2, into the pipe */
  V xi;
};

struct supply { /* the node */
  V p, t, r, g, h, yb, yf, rho, cp, rt;
  V exponent, log_critical, energy2; /* (g-1)/g; ln of the critical temperature ratio; 2 cp T */
};

INLINE struct supply supply_of(const struct ew_end_node *node, int lane) {
  struct supply v;
  v.p = load(node->pressure_pa + lane);
  v.t = load(node->temperature_k + lane);
  v.r = load(node->gas_constant + lane);
  v.g = load(node->gamma + lane);
  v.h = load(node->enthalpy_j_kg + lane);
  v.yb = load(node->burned + lane);
  v.yf = load(node->fuel + lane);
  v.rt = v.r * v.t;
  v.rho = v.p / v.rt;
  v.exponent = (v.g - 1) / v.g;
  v.cp = v.r / v.exponent;
  v.energy2 = 2 * v.cp * v.t;
  v.log_critical = logarithm(2 / (v.g + 1));
  return v;
}

#ifdef EW_SINGLE
#define SMALL_FALL 0.03 /* the series' next term is below 1e-7 of the first there */

/* 1 - (1 - q)^e of a small q. */
INLINE V fallen(V q, V e) {
  V series = 1 + 0.2 * (4 - e) * q;
  series = 1 + 0.25 * (3 - e) * q * series;
  series = 1 + 0.333333333 * (2 - e) * q * series;
  return e * q * (1 + 0.5 * (1 - e) * q * series);
}
#endif

/* Mass flux through the throat from the node down to pressure p = p_node - s^2; choked where that is lower. */
INLINE V throat(const struct supply *v, V p, V s, M *choked) {
  V wanted = v->exponent * logarithm(p / v->p);
  *choked = over(v->log_critical, wanted);
  V l = least(most(wanted, v->log_critical), splat(0));
  V t = exponential(l), fall = 1 - t;
#ifdef EW_SINGLE
  V q = s * s / v->p;
  fall = pick(over(splat(SMALL_FALL), q), fallen(q, v->exponent), fall);
#else
  (void)s;
#endif
  return v->rho * exponential(l / (v->g - 1)) * root(v->energy2 * fall);
}

/* Velocity of the mixed-out jet of mass flux k at pressure p, stagnation enthalpy that of the node. */
INLINE V jet(const struct supply *v, V k, V p) {
  return 2 * k * v->rt / (p + root(p * p + 2 * k * k * v->r * v->rt / v->cp));
}

/* Flow from the node: solve u_wave(p) = u of the mixed-out jet at p. */
INLINE struct flow inflow(const struct face *f, const struct supply *v, V open, V closed,
                          V memory) {
  V gap = v->p - closed, a2 = most(open * open, splat(1e-12));
  V guess = closed + f->z * 2 * gap / (f->z + root(f->z * f->z + 2 * v->rho * gap / a2));
  V sonic = 0.68 * open * v->p / root(v->rt);
  V low = 0.5 * (closed + root(closed * closed + 4 * f->z * sonic * v->rt));
  guess = pick(over(0.54 * v->p, guess), low, guess);
  V p = pick(over(memory, splat(0)), closed + memory * gap, guess), k, u;
  V low_s = 1e-6 * root(v->p), high_s = root(gap), s = low_s;
#ifdef EW_SINGLE
  V wide =
      f->z + root(f->z * f->z + 2 * v->rho * gap / a2); /* of the guess: by its own difference */
  V first = pick(over(0.54 * v->p, v->p - gap * (1 - 2 * f->z / wide)),
                 root(most(v->p - low, splat(0))), root(2 * v->rho / a2) * gap / wide);
  s = most(pick(over(memory, splat(0)), memory * high_s, first), low_s);
#endif
  M choked;
  for (int pass = 0; pass < PASSES; pass++) {
#ifndef EW_SINGLE
    s = most(root(most(v->p - p, splat(0))), low_s);
#endif
    p = v->p - s * s;
    k = open * throat(v, p, s, &choked);
    u = jet(v, k, p);
    struct wave w = wave_to(f, p);
    V slope = 2 * s * (w.slope + 0.8 * u / p) + pick(choked, splat(0), u / s);
    s = clamp(s + (w.u - u) / slope, low_s, high_s);
    p = v->p - s * s;
  }
  p = clamp(p, closed, v->p);
  k = open * throat(v, p, s, &choked);
  u = jet(v, k, p);
#ifdef EW_SINGLE
  V xi = s / most(high_s, low_s);
#else
  V xi = (p - closed) / (gap + 1e-9 * v->p);
#endif
  return (struct flow){p, u, k, k * v->h, v->yb, v->yf, xi};
}

/* Flow to the node: stagnation state of the arriving gas through the opening. */
INLINE struct flow outflow(const struct face *f, V node_p, V open, V closed, V memory) {
  V g1 = f->g - 1, gap = closed - node_p;
  V cs = most((g1 / (f->g + 1)) * (2 / g1 - f->u / f->c), splat(0.02));
  V lower = most(node_p, f->p * exponential(logarithm(cs) / f->exponent)); /* not below sonic */
  lower = least(lower, closed);
  V contraction = most(1 / most(open * open, splat(1e-12)) - 1, splat(0));
  V guess = closed - f->z * 2 * gap / (f->z + root(f->z * f->z + 2 * f->rho * gap * contraction));
  V p = pick(over(splat(0), memory), closed + memory * gap, guess);
  V node_t = exponential(2 * f->exponent * logarithm(node_p / f->p)); /* isentropic, over T_i */
  V critical = 2 / (f->g + 1), cp2 = f->r / f->exponent * f->t;       /* 2 cp T_i */
  V k = splat(0), rho = f->rho, t = f->t;
  struct wave w = {f->u, 1 / f->z, splat(1)};
  M full = over(open, splat(0.9999));
  V low_s = root(most(lower - node_p, 1e-12 * node_p)), high_s = most(root(gap), low_s), s = low_s;
#ifdef EW_SINGLE
  V swept = 2 * f->rho * contraction, wide = f->z + root(f->z * f->z + swept * gap);
  s = pick(over(splat(0), memory), -memory * high_s, root(swept) * gap / wide);
#endif
  for (int pass = 0; pass <= PASSES; pass++) {
#ifdef EW_SINGLE
    s = clamp(s, low_s, high_s);
#else
    s = clamp(root(most(p - node_p, splat(0))), low_s, high_s);
#endif
    V kept = s;
    p = pick(full, lower, node_p + s * s);
    w = wave_to(f, p);
    V x2 = w.x * w.x;
    rho = f->rho * (p / f->p) / x2;
    t = f->t * x2;
    V total = x2 + w.u * w.u / cp2; /* T0 / T_i */
    V throat_t = most(node_t, critical * total);
    V fall = total - throat_t;
#ifdef EW_SINGLE
    V q = s * s / p, small = x2 * fallen(q, 2 * f->exponent) + w.u * w.u / cp2;
    fall = pick(over(splat(SMALL_FALL), q), small, fall);
#endif
    V speed = root(cp2 * most(fall, splat(0)));
    k = open * f->rho * exponential(logarithm(throat_t) / g1) * speed;
    V out = k / rho;
    V slope = 2 * s * w.slope + pick(over(critical * total, node_t), 0.6 * s * out / p, out / s);
    s = clamp(s + (-w.u - out) / slope, low_s, high_s);
    V next = node_p + s * s;
    p = pass < PASSES ? next : p;
    s = pass < PASSES ? s : kept;
  }
#ifdef EW_SINGLE
  V xi = -s / high_s;
#else
  V xi = -((closed - p) / (gap + 1e-9 * node_p));
#endif
  V u = most(w.u, -root(f->g * f->r * t));
  k = pick(full, most(-u * rho, splat(0)), k);
  u = pick(full, u, -k / rho);
  V enthalpy = f->h + f->r / (2 * f->exponent) * (t - f->t) + 0.5 * u * u;
  M fast = over(-f->c, f->u); /* supersonic out: nothing comes back */
  k = pick(fast, -f->rho * f->u, k);
  p = pick(fast, f->p, p);
  u = pick(fast, f->u, u);
  enthalpy = pick(fast, f->h + 0.5 * f->u * f->u, enthalpy);
  return (struct flow){p, u, -k, -k * enthalpy, f->yb, f->yf, xi};
}

INLINE struct flow blend(M in, struct flow a, struct flow b) {
  return (struct flow){pick(in, a.p, b.p),           pick(in, a.u, b.u),   pick(in, a.mass, b.mass),
                       pick(in, a.energy, b.energy), pick(in, a.yb, b.yb), pick(in, a.yf, b.yf),
                       pick(in, a.xi, b.xi)};
}

INLINE gsize end_face(const struct ew_pipes *pipes, const struct ew_end *end, int lane) {
  return ew_pipes_element(pipes, end->pipe, end->side ? pipes->count[end->pipe] : 0, lane);
}

/* Write the flux of a solved end into the field; mass and energy already times area. */
INLINE void put(struct ew_pipes *pipes, struct ew_end *end, int lane, V mass, V energy, V momentum,
                V yb, V yf, V pressure) {
  gsize e = end_face(pipes, end, lane);
  double sign = end->side ? -1 : 1;
  store(pipes->flux[EW_MASS] + e, sign * mass);
  store(pipes->flux[EW_MOMENTUM] + e, momentum);
  store(pipes->flux[EW_ENERGY] + e, sign * energy);
  store(pipes->flux[EW_BURNED] + e, sign * (mass * yb));
  store(pipes->flux[EW_FUEL] + e, sign * (mass * yf));
  store(end->flow_kg_s + lane, mass);
  store(end->enthalpy_w + lane, energy);
  store(end->pressure_pa + lane, pressure);
}

INLINE void solve_end(struct ew_pipes *pipes, struct ew_end *end, struct ew_end_node *node,
                      int lane, V step) {
  struct face f = face_of(pipes, end, lane);
  V closed = closed_pressure(&f), node_p = load(node->pressure_pa + lane);
  V open_in = load(end->open_in + lane), open_out = load(end->open_out + lane);
  V memory = load(end->memory + lane), zero = splat(0);
  M in = over(node_p, closed), shut = ~over(pick(in, open_in, open_out), zero);
  struct flow none = {closed, zero, zero, zero, zero, zero, zero}, a = none, b = none;
  if (any(in & ~shut)) {
    struct supply v = supply_of(node, lane);
    a = inflow(&f, &v, open_in, closed, memory);
  }
  if (any(~in & ~shut))
    b = outflow(&f, node_p, open_out, closed, memory);
  struct flow s = blend(shut, none, blend(in, a, b));
  V area = load(pipes->area_m2 + end_face(pipes, end, lane));
  V mass = area * s.mass, energy = area * s.energy;
  put(pipes, end, lane, mass, energy, area * s.p + mass * s.u, s.yb, s.yf, s.p);
  store(end->memory + lane, s.xi);
  ew_take(end, node, lane, step * mass, step * energy, step * (mass * s.yb), step * (mass * s.yf));
}

struct member {
  struct face f;
  V area, mass, u, h0;
};

struct pool { /* what the givers of a junction bring together, and what the takers would take */
  V in, out, energy, yb, yf, heat, capacity, constant, slope;
};

INLINE struct pool gather(struct member *m, int n, V p) {
  V zero = splat(0);
  struct pool s = {zero, zero, zero, zero, zero, zero, zero, zero, zero};
  for (int k = 0; k < n; k++) { /* givers: isentropic from their own state */
    const struct face *f = &m[k].f;
    struct wave w = wave_to(f, p);
    V x2 = w.x * w.x, cp = f->r / (2 * f->exponent), t = f->t * x2;
    V rho = f->rho * (p / f->p) / x2;
    m[k].u = w.u;
    m[k].mass = m[k].area * rho * w.u;
    m[k].h0 = f->h + cp * (t - f->t) + 0.5 * w.u * w.u;
    V given = pick(over(zero, w.u), -m[k].mass, zero);
    s.in = s.in + given;
    s.energy = s.energy + given * m[k].h0;
    s.yb = s.yb + given * f->yb;
    s.yf = s.yf + given * f->yf;
    s.heat = s.heat + given * (cp * t + 0.5 * w.u * w.u);
    s.capacity = s.capacity + given * cp;
    s.constant = s.constant + given * f->r;
    s.slope = s.slope + m[k].area * rho * (w.slope + absolute(w.u) / (f->g * p));
  }
  V scale = 1 / most(s.in, splat(1e-30));
  V cp = most(s.capacity * scale, splat(1)), r = s.constant * scale;
  for (int k = 0; k < n; k++) { /* takers: the mixture */
    V t = (s.heat * scale - 0.5 * m[k].u * m[k].u) / cp;
    V mass = m[k].area * m[k].u * p / most(r * t, splat(1e3));
    m[k].mass = pick(over(zero, m[k].u), m[k].mass, pick(over(s.in, zero), mass, zero));
    s.out = s.out + pick(over(zero, m[k].u), zero, m[k].mass);
  }
  return s;
}

/* One pressure for all pipes of a junction such that the flows cancel. */
INLINE void solve_junction(struct ew_pipes *pipes, ew_ends ends, ew_indices members, int n,
                           ew_row pressure_pa, int lane) {
  struct member m[EW_JUNCTION_MOST];
  V sum = splat(0), weight = splat(0), zero = splat(0);
  for (int k = 0; k < n; k++) {
    ew_let_end(end, ends, members[k]);
    m[k].f = face_of(pipes, end, lane);
    m[k].area = load(pipes->area_m2 + end_face(pipes, end, lane));
    V y = m[k].area / m[k].f.c;
    weight = weight + y;
    sum = sum + y * (m[k].f.p - m[k].f.z * m[k].f.u); /* acoustic answer as first guess */
  }
  V p = most(sum / weight, splat(1e3));
  struct pool s = gather(m, n, p);
  for (int pass = 1; pass < JUNCTION_PASSES; pass++) {
    p = most(p - (s.out - s.in) / s.slope, 0.3 * p);
    s = gather(m, n, p);
  }
  V scale = 1 / most(s.in, splat(1e-30));
  V h_mix = s.energy * scale, b_mix = s.yb * scale, f_mix = s.yf * scale;
  /* Scale what is taken to what is given; where nobody takes, nothing flows. */
  M flows = over(s.in, zero) & over(s.out, zero);
  V balance = pick(flows, s.in / most(s.out, splat(EW_LEAST_TAKEN)), zero);
  for (int k = 0; k < n; k++) {
    M gives = over(zero, m[k].u);
    V mass = pick(flows, pick(gives, m[k].mass, m[k].mass * balance), zero);
    V energy = mass * pick(gives, m[k].h0, h_mix);
    ew_let_end(end, ends, members[k]);
    put(pipes, end, lane, mass, energy, m[k].area * p + mass * pick(flows, m[k].u, zero),
        pick(gives, m[k].f.yb, b_mix), pick(gives, m[k].f.yf, f_mix), p);
  }
  store(pressure_pa + lane, p);
}
