/* The pipes, ends and nodes of a lane as the shared sources want them: rows in the memory of the device. */

struct ew_pipes {
  int stride;
  ew_indices first, count;
  ew_row gas; /* struct ew_lane_gas */
  ew_row area_m2, inverse_length, area_slope, loss_per_m, inverse_volume, inverse_diameter;
  ew_row wall_m2, wall_k, heat_factor;
  ew_row conserved[EW_CONSERVED], temperature;
  ew_field primitive[EW_PRIMITIVES];
  ew_field left[EW_FACE_STATE], right[EW_FACE_STATE], flux[EW_CONSERVED];
  ew_row heat_j, conductance, conductance_k;
};

struct ew_end {
  int pipe, side, taken_pitch;
  ew_row open_in, open_out, memory, flow_kg_s, enthalpy_w, pressure_pa;
  ew_field taken;
};

struct ew_end_node {
  ew_row pressure_pa, temperature_k, gas_constant, gamma, enthalpy_j_kg, burned, fuel;
};

#define ew_gas_energy(p, part, i, lane) ((p)->gas + ((part) * EW_GAS_TERMS + (i)) * EW_LANES + (lane))
#define ew_gas_constant(p, part, lane)                                                             \
  ((p)->gas + (EW_GAS_PARTS * EW_GAS_TERMS + (part)) * EW_LANES + (lane))
#define ew_gas_coldest(p, lane) ew_gas_constant(p, EW_GAS_PARTS, lane)
#define ew_gas_hottest(p, lane) ew_gas_constant(p, EW_GAS_PARTS + 1, lane)
#define ew_temperature(p)       ((p)->temperature)
#define ew_live(p, e)           (-1L) /* ghosts are not visited */

gsize ew_pipes_element(const struct ew_pipes *p, int pipe, int cell, int lane) {
  return (gsize)((p->first[pipe] + cell) * EW_LANES + lane);
}

/* What a node loses is put down by end: one item adds it up, in order. */
void ew_take(struct ew_end *end, struct ew_end_node *node, int lane, V mass, V energy, V burned,
             V fuel) {
  end->taken[lane] = mass;
  end->taken[end->taken_pitch + lane] = energy;
  end->taken[2 * end->taken_pitch + lane] = burned;
  end->taken[3 * end->taken_pitch + lane] = fuel;
}

struct place;
struct ew_end end_of(const struct place *at, int e);
typedef const struct place *ew_ends;
#define ew_let_end(end, ends, i) struct ew_end end##_here = end_of(ends, i), *end = &end##_here
