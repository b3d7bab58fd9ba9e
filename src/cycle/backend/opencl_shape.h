/* How the memory of a device is laid out: read by opencl.c and, as OpenCL C, by opencl_steps.cl.
 *
 * Every pack of eight lanes has one block in each of three buffers, rows of EW_LANES doubles as in the processor's memory:
 *   STATE   struct ew_cycle_state, rows as they are
 *   FIXED   what a lane's plan and speed decide: geometry, gas, openings; written when a lane is loaded
 *   FIELD   what one kernel leaves for the next within a step; nothing in it outlives the step
 * The words below are numbers of the whole shape; where they say "at", lists of whole numbers begin there. */
#pragma once

enum ew_shape_word {
  EW_SHAPE_PACKS,
  EW_SHAPE_CELLS, /* rows of a word of cells: all cells with ghosts, one more */
  EW_SHAPE_PIPES,
  EW_SHAPE_ENDS,
  EW_SHAPE_VOLUMES,
  EW_SHAPE_CYLINDERS,
  EW_SHAPE_VALVES,
  EW_SHAPE_JUNCTIONS,
  EW_SHAPE_REAL,   /* cells without ghosts */
  EW_SHAPE_INNER,  /* faces between two of them */
  EW_SHAPE_PORTS,  /* fuel enters there */
  EW_SHAPE_TABLES, /* of valve openings a lane */
  EW_SHAPE_STATE_ROWS,
  EW_SHAPE_FIXED_ROWS,
  EW_SHAPE_FIELD_ROWS,
  EW_SHAPE_ROW,                           /* nine: first row of each group of the state */
  EW_SHAPE_PITCH = EW_SHAPE_ROW + 9,      /* nine: rows from word to word */
  EW_SHAPE_AT_FIRST = EW_SHAPE_PITCH + 9, /* [pipes] first real cell */
  EW_SHAPE_AT_COUNT,                      /* [pipes] */
  EW_SHAPE_AT_NODE,                       /* [ends], -1 in a junction */
  EW_SHAPE_AT_REAL,                       /* [real] cells */
  EW_SHAPE_AT_INNER,                      /* [inner] faces */
  EW_SHAPE_AT_VALVE,                      /* [valves] three each: end, cylinder, exhaust */
  EW_SHAPE_AT_JUNCTION,                   /* [junctions] two each: first member, members */
  EW_SHAPE_AT_MEMBERS,
  EW_SHAPE_WORDS
};

/* Words of cells in FIXED. */
enum ew_fixed_cell {
  EW_FIXED_AREA,
  EW_FIXED_INVERSE_LENGTH,
  EW_FIXED_AREA_SLOPE,
  EW_FIXED_LOSS,
  EW_FIXED_INVERSE_VOLUME,
  EW_FIXED_INVERSE_DIAMETER,
  EW_FIXED_WALL_M2,
  EW_FIXED_HEAT_FACTOR,
  EW_FIXED_CELL_WORDS
};

/* Words of the lane in FIXED, behind the cells; then struct ew_lane_gas; then cylinders, volumes, valves, ends. */
enum ew_fixed_lane {
  EW_FIXED_CFL,
  EW_FIXED_INJECTED_J_KG,
  EW_FIXED_FUEL_SHARE,
  EW_FIXED_FRICTION,
  EW_FIXED_GAS, /* its number among the gases of the batch */
  EW_FIXED_LANE_WORDS
};
enum ew_fixed_cylinder {
  EW_FIXED_FIRING,
  EW_FIXED_SHUT_FROM,
  EW_FIXED_SHUT_TO,
  EW_FIXED_CYLINDER_WORDS
};
enum ew_fixed_end { EW_FIXED_OPEN_IN, EW_FIXED_OPEN_OUT, EW_FIXED_END_WORDS };

/* Words of cells in FIELD: primitives, left, right, flux, the rate of waves; then of pipes and ends. */
#define EW_FIELD_LEFT       EW_PRIMITIVES
#define EW_FIELD_RIGHT      (EW_FIELD_LEFT + EW_FACE_STATE)
#define EW_FIELD_FLUX       (EW_FIELD_RIGHT + EW_FACE_STATE)
#define EW_FIELD_RATE       (EW_FIELD_FLUX + EW_CONSERVED)
#define EW_FIELD_CELL_WORDS (EW_FIELD_RATE + 1)
#define EW_FIELD_LAST                                                                              \
  4 /* rows for two rows of doubles, whatever the rest is: the length of the step, and where it began */
#define EW_FIELD_TAKEN 4 /* words an end: mass, energy, burned, fuel that its node lost */

#define EW_DEVICE_TABLE     2881 /* EW_VALVE_TABLE */
#define EW_DEVICE_ARGUMENTS 8
