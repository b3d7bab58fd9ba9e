/* One step of every running lane as eight kernels, each over all lanes and parts at once: a part of every engine runs beside the same
 * part of the others, so that ends and cylinders keep a device as busy as cells do. Numbers of cpu.h:
 *
 *   1 primitives (cells), waves (pipes: largest rate, ghosts)   2 nodes (volumes, cylinders: stages, openings; the step's length)
 *   3 predict (cells), riemann (inner faces)                    4 ends (ends, junctions)
 *   5 update (cells)                                            6 last (nodes; lanes: port injection, exhaust, angle)
 *
 * A lane that does not run, or whose cycle has ended, is left alone by every kernel. What several parts add to one figure is added by
 * one item in the order of the processor's loops, so that the bits are the same. */

#define ARGUMENTS                                                                                  \
  __constant int *shape, __global double *state, __global double *fixed,                       \
      ew_field field, __global const double *tables, __global double *frames,              \
      __global double *gases, int packs
#define HERE shape, state, fixed, field, frames, gases, tables

struct place { /* a lane: its pack's blocks and its number in them */
  __constant int *shape;
  ew_row state, fixed;
  ew_field field;
  struct ew_cylinder_frame *frames;
  struct ew_working_gas *gas;
  __global const double *tables;
  int l;
};

struct place place_of(__constant int *shape, ew_row state, ew_row fixed, ew_field field,
                      ew_row frames, ew_row gases, __global const double *tables,
                      int pack, int l) {
  struct place at;
  size_t p = pack, lane = p * EW_LANES + l;
  at.shape = shape;
  at.state = state + p * shape[EW_SHAPE_STATE_ROWS] * EW_LANES;
  at.fixed = fixed + p * shape[EW_SHAPE_FIXED_ROWS] * EW_LANES;
  at.field = field + p * shape[EW_SHAPE_FIELD_ROWS] * EW_LANES;
  at.frames = (struct ew_cylinder_frame *)frames + lane * shape[EW_SHAPE_CYLINDERS];
  at.gas = (struct ew_working_gas *)gases;
  at.tables = tables + lane * shape[EW_SHAPE_TABLES] * 2 * EW_DEVICE_TABLE;
  at.l = l;
  return at;
}

/* Rows; the figure of a lane is at [lane]. */
INLINE ew_row state_row(const struct place *at, int group, int word, int part) {
  return at->state +
         (at->shape[EW_SHAPE_ROW + group] + at->shape[EW_SHAPE_PITCH + group] * word + part) *
             EW_LANES;
}
INLINE ew_row run_of(const struct place *at, int word) {
  return state_row(at, EW_STATE_RUN, word, 0) + at->l;
}
INLINE ew_row fixed_cells(const struct place *at, int word) {
  return at->fixed + at->shape[EW_SHAPE_CELLS] * word * EW_LANES;
}
INLINE ew_field field_cells(const struct place *at, int word) {
  return at->field + at->shape[EW_SHAPE_CELLS] * word * EW_LANES;
}
INLINE ew_row lane_row(const struct place *at, int row) {
  return fixed_cells(at, EW_FIXED_CELL_WORDS) + row * EW_LANES;
}
#define GAS_ROWS (EW_GAS_PARTS * EW_GAS_TERMS + EW_GAS_PARTS + 2)
INLINE ew_row gas_rows(const struct place *at) {
  return lane_row(at, EW_FIXED_LANE_WORDS);
}
INLINE ew_row cylinder_row(const struct place *at, int word, int i) {
  return gas_rows(at) + (GAS_ROWS + word * at->shape[EW_SHAPE_CYLINDERS] + i) * EW_LANES;
}
INLINE ew_row volume_row(const struct place *at, int v) {
  return cylinder_row(at, EW_FIXED_CYLINDER_WORDS, v);
}
INLINE ew_row table_row(const struct place *at, int v) {
  return volume_row(at, at->shape[EW_SHAPE_VOLUMES] + v);
}
INLINE ew_row opening_row(const struct place *at, int word, int e) {
  return table_row(at, at->shape[EW_SHAPE_VALVES] + word * at->shape[EW_SHAPE_ENDS] + e);
}
INLINE ew_field pipe_rate(const struct place *at, int pipe) {
  return field_cells(at, EW_FIELD_CELL_WORDS) + pipe * EW_LANES;
}
INLINE ew_field taken_row(const struct place *at, int word, int e) {
  return pipe_rate(at, at->shape[EW_SHAPE_PIPES] + word * at->shape[EW_SHAPE_ENDS] + e);
}
INLINE ew_row step_row(const struct place *at) {
  return (ew_row)taken_row(at, EW_FIELD_TAKEN, 0); /* the last rows, double always */
}
/* The angle at which the step began: `last` moves the lane's own while others of its launch still read. */
INLINE ew_row began_row(const struct place *at) {
  return step_row(at) + EW_LANES;
}
INLINE int list(const struct place *at, int word, int i) {
  return at->shape[at->shape[word] + i];
}

INLINE int runs(const struct place *at) {
  return *run_of(at, EW_RUN_RUNNING) != 0 && !(*run_of(at, EW_RUN_ANGLE_DEG) > 720 - 1e-9);
}
/* Lanes of one fuel, air and mixture share a gas: it is read from near. */
INLINE struct ew_working_gas *gas_of(const struct place *at) {
  return at->gas + (int)lane_row(at, EW_FIXED_GAS)[at->l];
}
INLINE double step_deg(const struct place *at) {
  return step_row(at)[at->l] * 6 * *run_of(at, EW_RUN_SPEED_RPM);
}

struct ew_pipes pipes_at(const struct place *at) {
  struct ew_pipes p;
  p.stride = EW_LANES;
  p.first = at->shape + at->shape[EW_SHAPE_AT_FIRST];
  p.count = at->shape + at->shape[EW_SHAPE_AT_COUNT];
  p.gas = gas_rows(at);
  p.area_m2 = fixed_cells(at, EW_FIXED_AREA);
  p.inverse_length = fixed_cells(at, EW_FIXED_INVERSE_LENGTH);
  p.area_slope = fixed_cells(at, EW_FIXED_AREA_SLOPE);
  p.loss_per_m = fixed_cells(at, EW_FIXED_LOSS);
  p.inverse_volume = fixed_cells(at, EW_FIXED_INVERSE_VOLUME);
  p.inverse_diameter = fixed_cells(at, EW_FIXED_INVERSE_DIAMETER);
  p.wall_m2 = fixed_cells(at, EW_FIXED_WALL_M2);
  p.heat_factor = fixed_cells(at, EW_FIXED_HEAT_FACTOR);
  for (int k = 0; k < EW_CONSERVED; k++) {
    p.conserved[k] = state_row(at, EW_STATE_CELLS, k, 0);
    p.flux[k] = field_cells(at, EW_FIELD_FLUX + k);
  }
  for (int k = 0; k < EW_PRIMITIVES; k++)
    p.primitive[k] = field_cells(at, k);
  p.temperature = state_row(at, EW_STATE_CELLS, EW_CELL_TEMPERATURE, 0);
  for (int k = 0; k < EW_FACE_STATE; k++) {
    p.left[k] = field_cells(at, EW_FIELD_LEFT + k);
    p.right[k] = field_cells(at, EW_FIELD_RIGHT + k);
  }
  p.wall_k = state_row(at, EW_STATE_CELLS, EW_CELL_WALL, 0);
  p.heat_j = state_row(at, EW_STATE_CELLS, EW_CELL_HEAT, 0);
  p.conductance = state_row(at, EW_STATE_CELLS, EW_CELL_CONDUCTANCE, 0);
  p.conductance_k = state_row(at, EW_STATE_CELLS, EW_CELL_CONDUCTANCE_K, 0);
  return p;
}

/* ---- 1 ---- */

/* Items along the cells of a pack, then packs: neighbours in memory are neighbours at work. */
#define EACH_CELL(count_word, list_word)                                                                       \
  int item = get_global_id(0), pack = get_global_id(1);                                            \
  if (item >= shape[count_word] * EW_LANES)                                                        \
    return;                                                                                        \
  struct place at = place_of(HERE, pack, item % EW_LANES);                                         \
  if (!runs(&at))                                                                                  \
    return;                                                                                        \
  struct ew_pipes p = pipes_at(&at);                                                               \
  gsize e = list(&at, list_word, item / EW_LANES) * EW_LANES + at.l;

__kernel void primitives(ARGUMENTS) {
  EACH_CELL(EW_SHAPE_REAL, EW_SHAPE_AT_REAL)
  V rate = 0;
  primitives_of(&p, e, at.l, &rate);
  field_cells(&at, EW_FIELD_RATE)[e] = rate;
}

/* Items along all lanes of all packs, then parts. */
#define EACH_LANE                                                                                  \
  int item = get_global_id(0), part = get_global_id(1);                                            \
  if (item >= packs * EW_LANES)                                                                    \
    return;                                                                                        \
  struct place at = place_of(HERE, item / EW_LANES, item % EW_LANES);                              \
  if (!runs(&at))                                                                                  \
    return;

__kernel void waves(ARGUMENTS) {
  EACH_LANE
  struct ew_pipes p = pipes_at(&at);
  int first = p.first[part], count = p.count[part], s = EW_LANES;
  ew_field rate = field_cells(&at, EW_FIELD_RATE);
  V fastest = 0;
  for (int c = 0; c < count; c++)
    fastest = most(fastest, rate[(first + c) * EW_LANES + at.l]);
  pipe_rate(&at, part)[at.l] = fastest;
  gsize a = first * EW_LANES + at.l, b = (first + count - 1) * EW_LANES + at.l;
  for (int k = 0; k < EW_RECONSTRUCTED; k++) {
    ew_field w = p.primitive[k];
    w[a - s] = 2 * w[a] - w[a + s];
    w[b + s] = 2 * w[b] - w[b - s];
  }
}

/* ---- 2 ---- */

#define LARGEST_STEP_DEG 1.0

/* Each part works it out for itself: all come to the same figure. */
double choose_step_s(const struct place *at) {
  double rate = 0, per_s = 6 * *run_of(at, EW_RUN_SPEED_RPM);
  for (int i = 0; i < at->shape[EW_SHAPE_PIPES]; i++)
    rate = most(rate, pipe_rate(at, i)[at->l]);
  double deg = lane_row(at, EW_FIXED_CFL)[at->l] / rate * per_s;
  deg = deg < LARGEST_STEP_DEG ? deg : LARGEST_STEP_DEG;
  double left = 720 - *run_of(at, EW_RUN_ANGLE_DEG);
  deg = left < deg * 1.0001 ? left : left < 2 * deg ? 0.5 * left : deg;
  return deg / per_s;
}

/* fmod is exact, but not in every library of every device; the angle is between -720 and 1,440. */
double local_angle(const struct place *at, int i, double angle) {
  double deg = angle - cylinder_row(at, EW_FIXED_FIRING, i)[at->l];
  deg = deg >= 720 ? deg - 720 : deg <= -720 ? deg + 720 : deg;
  return deg > 360 ? deg - 720 : deg <= -360 ? deg + 720 : deg;
}

struct ew_cylinder cylinder_at(const struct place *at, int group, int i) {
  struct ew_cylinder c;
  int word = 0;
#define GET(member, rule) c.member = state_row(at, group, word++, i)[at->l];
  EW_STATE_CYLINDER_WORDS(GET)
#undef GET
  c.stage = (enum ew_cylinder_stage)(int)state_row(at, group, word, i)[at->l];
  return c;
}

void cylinder_to(const struct place *at, int group, int i, const struct ew_cylinder *c) {
  int word = 0;
#define PUT(member, rule) state_row(at, group, word++, i)[at->l] = c->member;
  EW_STATE_CYLINDER_WORDS(PUT)
#undef PUT
  state_row(at, group, word, i)[at->l] = (double)(int)c->stage;
}

struct ew_cylinder_frame *frame_at(const struct place *at, int i) {
  struct ew_cylinder_frame *frame = at->frames + i;
  frame->gas = gas_of(at); /* an address of this launch */
  return frame;
}

void set_node(const struct place *at, int node, double p, double t, double r, double gamma, double h,
              double yb, double yf) {
  const double words[EW_NODES_GAINED] = {p, t, r, gamma, h, yb, yf};
  for (int w = 0; w < EW_NODES_GAINED; w++)
    state_row(at, EW_STATE_NODES, w, node)[at->l] = words[w];
}

double opening(__global const double *values, double deg) {
  double x = (deg < 0 ? deg + 720 : deg) * 4;
  int i = (int)x;
  return values[i] + (x - i) * (values[i + 1] - values[i]);
}

void set_valves(const struct place *at, int i, int open, double deg) {
  for (int v = 0; v < at->shape[EW_SHAPE_VALVES]; v++) {
    if (list(at, EW_SHAPE_AT_VALVE, 3 * v + 1) != i)
      continue;
    int e = list(at, EW_SHAPE_AT_VALVE, 3 * v);
    __global const double *in =
        at->tables + (int)table_row(at, v)[at->l] * 2 * EW_DEVICE_TABLE;
    opening_row(at, EW_FIXED_OPEN_IN, e)[at->l] = open ? opening(in, deg) : 0;
    opening_row(at, EW_FIXED_OPEN_OUT, e)[at->l] = open ? opening(in + EW_DEVICE_TABLE, deg) : 0;
  }
}

void set_cylinder(const struct place *at, int i, double step) {
  double angle = *run_of(at, EW_RUN_ANGLE_DEG);
  double deg = local_angle(at, i, angle + 0.5 * (step * 6 * *run_of(at, EW_RUN_SPEED_RPM)));
  int exchange = (int)state_row(at, EW_STATE_CYLINDERS, EW_STATE_STAGE, i)[at->l] == EW_EXCHANGE;
  int shut = deg >= cylinder_row(at, EW_FIXED_SHUT_FROM, i)[at->l] &&
             deg <= cylinder_row(at, EW_FIXED_SHUT_TO, i)[at->l];
  struct ew_cylinder_frame *frame = frame_at(at, i);
  if (shut == exchange) {
    struct ew_cylinder c = cylinder_at(at, EW_STATE_CYLINDERS, i);
    if (shut) {
      c.spark_deg = *run_of(at, EW_RUN_SPARK_DEG);
      ew_cylinder_shut(frame, &c);
      cylinder_to(at, EW_STATE_SHUT, i, &c);
      state_row(at, EW_STATE_CLOSED, EW_CLOSED_DEG, i)[at->l] = local_angle(at, i, angle);
    } else {
      ew_cylinder_open(&c);
    }
    cylinder_to(at, EW_STATE_CYLINDERS, i, &c);
    exchange = !exchange;
  }
  if (exchange || *run_of(at, EW_RUN_STEPS) == 0) {
    struct ew_cylinder c = cylinder_at(at, EW_STATE_CYLINDERS, i);
    double r, gamma, h;
    ew_cylinder_gas(frame, &c, &r, &gamma, &h);
    set_node(at, EW_NODE_FIRST + at->shape[EW_SHAPE_VOLUMES] + i, c.pressure_pa, c.temperature_k, r,
             gamma, h, c.burned_kg / c.mass_kg, c.fuel_kg / c.mass_kg);
  }
  set_valves(at, i, exchange, exchange ? deg : 0);
}

void set_volume(const struct place *at, int v) {
  struct ew_working_gas *gas = gas_of(at);
  double s[EW_VOLUMES_WORDS];
  for (int w = 0; w < EW_VOLUMES_WORDS; w++)
    s[w] = state_row(at, EW_STATE_VOLUMES, w, v)[at->l];
  double mass = s[EW_VOLUMES_MASS], energy = s[EW_VOLUMES_ENERGY], t = s[EW_VOLUMES_TEMPERATURE];
  double yb = s[EW_VOLUMES_BURNED] / mass, yf = s[EW_VOLUMES_FUEL] / mass;
  double volume_m3 = volume_row(at, v)[at->l], r = ew_working_gas_constant(gas, yb, yf);
  for (int pass = 0; pass < 2; pass++)
    t -= (ew_working_gas_energy(gas, yb, yf, t) - energy / mass) /
         ew_working_gas_cv(gas, yb, yf, t);
  double p = mass * r * t / volume_m3;
  state_row(at, EW_STATE_VOLUMES, EW_VOLUMES_TEMPERATURE, v)[at->l] = t;
  set_node(at, EW_NODE_FIRST + v, p, t, r, 1 + r / ew_working_gas_cv(gas, yb, yf, t),
           energy / mass + p / mass * volume_m3, yb, yf);
}

__kernel void nodes(ARGUMENTS) {
  int item = get_global_id(0), part = get_global_id(1);
  if (item >= packs * EW_LANES)
    return;
  struct place at = place_of(HERE, item / EW_LANES, item % EW_LANES);
  if (part == 0)
    began_row(&at)[at.l] = *run_of(&at, EW_RUN_ANGLE_DEG);
  if (!runs(&at))
    return;
  double step = choose_step_s(&at);
  if (part == 0)
    step_row(&at)[at.l] = step;
  int i = part - at.shape[EW_SHAPE_VOLUMES];
  if (i < 0)
    set_volume(&at, part);
  else
    set_cylinder(&at, i, step);
}

/* ---- 3 ---- */

__kernel void predict(ARGUMENTS) {
  EACH_CELL(EW_SHAPE_REAL, EW_SHAPE_AT_REAL)
  predict_cell(&p, e, at.l, step_row(&at)[at.l]);
}

__kernel void riemann(ARGUMENTS) {
  EACH_CELL(EW_SHAPE_INNER, EW_SHAPE_AT_INNER)
  riemann_face(&p, e);
}

/* ---- 4 ---- */

struct ew_end end_of(const struct place *at, int e) {
  struct ew_end end;
  end.pipe = e / 2;
  end.side = e % 2;
  end.open_in = opening_row(at, EW_FIXED_OPEN_IN, e);
  end.open_out = opening_row(at, EW_FIXED_OPEN_OUT, e);
  end.memory = state_row(at, EW_STATE_ENDS, EW_ENDS_MEMORY, e);
  end.flow_kg_s = state_row(at, EW_STATE_ENDS, EW_ENDS_FLOW, e);
  end.enthalpy_w = state_row(at, EW_STATE_ENDS, EW_ENDS_ENTHALPY, e);
  end.pressure_pa = state_row(at, EW_STATE_ENDS, EW_ENDS_PRESSURE, e);
  end.taken = taken_row(at, 0, e);
  end.taken_pitch = at->shape[EW_SHAPE_ENDS] * EW_LANES;
  return end;
}

struct ew_end_node node_of(const struct place *at, int n) {
  struct ew_end_node node;
  node.pressure_pa = state_row(at, EW_STATE_NODES, EW_NODES_PRESSURE, n);
  node.temperature_k = state_row(at, EW_STATE_NODES, EW_NODES_TEMPERATURE, n);
  node.gas_constant = state_row(at, EW_STATE_NODES, EW_NODES_CONSTANT, n);
  node.gamma = state_row(at, EW_STATE_NODES, EW_NODES_GAMMA, n);
  node.enthalpy_j_kg = state_row(at, EW_STATE_NODES, EW_NODES_ENTHALPY, n);
  node.burned = state_row(at, EW_STATE_NODES, EW_NODES_BURNED, n);
  node.fuel = state_row(at, EW_STATE_NODES, EW_NODES_FUEL, n);
  return node;
}

/* Junctions take longest and come first. */
__kernel void ends(ARGUMENTS) {
  EACH_LANE
  struct ew_pipes p = pipes_at(&at);
  int junctions = at.shape[EW_SHAPE_JUNCTIONS], e = part - junctions;
  if (e < 0) {
    solve_junction(&p, &at, shape + shape[EW_SHAPE_AT_MEMBERS] + list(&at, EW_SHAPE_AT_JUNCTION, 2 * part),
                   list(&at, EW_SHAPE_AT_JUNCTION, 2 * part + 1),
                   state_row(&at, EW_STATE_JUNCTIONS, 0, part), at.l);
    return;
  }
  int n = list(&at, EW_SHAPE_AT_NODE, e);
  if (n >= 0) {
    struct ew_end end = end_of(&at, e);
    struct ew_end_node node = node_of(&at, n);
    solve_end(&p, &end, &node, at.l, step_row(&at)[at.l]);
  }
}

/* ---- 5 ---- */

__kernel void update(ARGUMENTS) {
  EACH_CELL(EW_SHAPE_REAL, EW_SHAPE_AT_REAL)
  struct ew_pipe_physics physics = {lane_row(&at, EW_FIXED_FRICTION)[at.l], 1};
  update_cell(&p, e, step_row(&at)[at.l], &physics);
}

/* ---- 6 ---- */

/* What a node's ends took, in their order; from 0 but for the outside, which counts over the cycle. */
void sum_node(const struct place *at, int node, double *gained) {
  const int words[EW_FIELD_TAKEN] = {EW_MASS, EW_ENERGY, EW_BURNED, EW_FUEL};
  int outside = node < EW_NODE_FIRST;
  gained[EW_MOMENTUM] = 0;
  for (int k = 0; k < EW_FIELD_TAKEN; k++)
    gained[words[k]] =
        outside ? state_row(at, EW_STATE_NODES, EW_NODES_GAINED + words[k], node)[at->l] : 0;
  for (int e = 0; e < at->shape[EW_SHAPE_ENDS]; e++)
    if (list(at, EW_SHAPE_AT_NODE, e) == node)
      for (int k = 0; k < EW_FIELD_TAKEN; k++)
        gained[words[k]] = gained[words[k]] - taken_row(at, k, e)[at->l];
  for (int k = 0; k < EW_CONSERVED; k++)
    if (!outside || k != EW_MOMENTUM)
      state_row(at, EW_STATE_NODES, EW_NODES_GAINED + k, node)[at->l] = gained[k];
}

void gather_node(const struct place *here, int part) {
  struct place at = *here;
  double gained[EW_CONSERVED];
  sum_node(&at, part, gained);
  int v = part - EW_NODE_FIRST, i = v - at.shape[EW_SHAPE_VOLUMES];
  if (v < 0)
    return;
  if (i < 0) {
    const int words[EW_FIELD_TAKEN] = {EW_MASS, EW_ENERGY, EW_BURNED, EW_FUEL};
    for (int k = 0; k < EW_FIELD_TAKEN; k++) /* EW_VOLUMES_MASS and on are in this order */
      state_row(&at, EW_STATE_VOLUMES, k, v)[at.l] += gained[words[k]];
    return;
  }
  struct ew_cylinder c = cylinder_at(&at, EW_STATE_CYLINDERS, i);
  double from = local_angle(&at, i, began_row(&at)[at.l]);
  ew_cylinder_advance(frame_at(&at, i), &c, from, from + step_deg(&at),
                      c.stage == EW_EXCHANGE ? gained : NULL);
  cylinder_to(&at, EW_STATE_CYLINDERS, i, &c);
}

#define INJECTED_CELLS 3

void inject(const struct place *at) {
  struct ew_pipes p = pipes_at(at);
  double energy = lane_row(at, EW_FIXED_INJECTED_J_KG)[at->l];
  double share = lane_row(at, EW_FIXED_FUEL_SHARE)[at->l], ratio = share / (1 - share);
  for (int v = 0; v < at->shape[EW_SHAPE_VALVES]; v++) {
    int end = list(at, EW_SHAPE_AT_VALVE, 3 * v), pipe = end / 2, n = p.count[pipe];
    for (int c = 0; c < INJECTED_CELLS && !list(at, EW_SHAPE_AT_VALVE, 3 * v + 2); c++) {
      gsize e = ew_pipes_element(&p, pipe, end % 2 ? n - 1 - c : c, at->l);
      double air = p.conserved[EW_MASS][e] - p.conserved[EW_BURNED][e] - p.conserved[EW_FUEL][e];
      double mass = ratio * air - p.conserved[EW_FUEL][e];
      if (!(mass > 0))
        continue;
      p.conserved[EW_MASS][e] += mass;
      p.conserved[EW_FUEL][e] += mass;
      p.conserved[EW_ENERGY][e] += mass * energy;
      *run_of(at, EW_RUN_INJECTED_KG) += mass;
      *run_of(at, EW_RUN_INJECTED_J) += mass * energy;
    }
  }
}

void watch_exhaust(const struct place *at) {
  double step = step_row(at)[at->l];
  for (int v = 0; v < at->shape[EW_SHAPE_VALVES]; v++) {
    int e = list(at, EW_SHAPE_AT_VALVE, 3 * v), n = list(at, EW_SHAPE_AT_NODE, e);
    double flow = state_row(at, EW_STATE_ENDS, EW_ENDS_FLOW, e)[at->l];
    if (!list(at, EW_SHAPE_AT_VALVE, 3 * v + 2) || !(flow > 0))
      continue;
    double mass = flow * step;
    *run_of(at, EW_RUN_OUT_KG) += mass;
    *run_of(at, EW_RUN_OUT_KG_K) +=
        mass * state_row(at, EW_STATE_NODES, EW_NODES_TEMPERATURE, n)[at->l];
  }
}

void finish_lane(const struct place *here) {
  struct place at = *here;
  if (at.shape[EW_SHAPE_PORTS])
    inject(&at);
  watch_exhaust(&at);
  *run_of(&at, EW_RUN_ANGLE_DEG) += step_deg(&at);
  *run_of(&at, EW_RUN_STEPS) += 1;
  *run_of(&at, EW_RUN_STEPS_HERE) += 1;
}

/* Nodes, and behind them one part that moves the lane on: what it writes no node reads. */
__kernel void last(ARGUMENTS) {
  int item = get_global_id(0), part = get_global_id(1);
  if (item >= packs * EW_LANES)
    return;
  struct place at = place_of(HERE, item / EW_LANES, item % EW_LANES);
  if (*run_of(&at, EW_RUN_RUNNING) == 0 || began_row(&at)[at.l] > 720 - 1e-9)
    return;
  int nodes = EW_NODE_FIRST + at.shape[EW_SHAPE_VOLUMES] + at.shape[EW_SHAPE_CYLINDERS];
  if (part < nodes)
    gather_node(&at, part);
  else
    finish_lane(&at);
}

/* How many lanes go on. */
__kernel void count_running(ARGUMENTS, __global int *running) {
  EACH_LANE
  atomic_inc(running);
}
