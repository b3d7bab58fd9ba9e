/* The combination: what an engine is, as one YAML file says it.
 *
 * The file has top-level fields and groups (`geometry:`, `compression:`, `cam:`, `inlet:`,
 * `exhaust:`, `breathing:`, `fuel_system:`, `torsion:`, `balance:`, `degree_in:`). Every field is
 * described once, in the tables of engine_fields.c; reading, JSON, template and manual all come
 * from there. Figures that a shop may leave out are NaN (quantities) or NULL (texts and lists). */
#pragma once
#include "base/field.h"

struct ew_message_kind;

enum ew_layout { EW_LAYOUT_INLINE, EW_LAYOUT_VEE, EW_LAYOUT_FLAT };
enum ew_lifter {
  EW_LIFTER_FLAT_SOLID,
  EW_LIFTER_ROLLER_SOLID,
  EW_LIFTER_FLAT_HYDRAULIC,
  EW_LIFTER_ROLLER_HYDRAULIC,
  EW_LIFTER_BUCKET,
};

struct ew_engine_geometry {
  double rod_length_m;
  double pin_offset_m; /* towards the thrust side is positive */
  int layout;          /* enum ew_layout */
  double bank_angle_deg;
  GArray *firing_order; /* of double: cylinder numbers, in order */
  GArray
      *firing_angles; /* crank degrees of each firing, in the order of firing_order; NULL: even */
  GArray *banks;      /* bank 1 or 2 of each cylinder */
  double bore_spacing_m; /* along one bank */
  double bank_stagger_m; /* bank 2 behind bank 1 */
};

struct ew_engine_compression {
  GArray *chambers; /* m3, one a cylinder */
  double chamber_m3;
  double gasket_bore_m, gasket_thickness_m, gasket_volume_m3;
  double deck_m; /* piston below the deck at TDC is positive */
  double dome_m3, dish_m3, crevice_m3;
  double ratio_stated, ratio_wanted;
};

struct ew_engine_cam {
  int lifter; /* enum ew_lifter */
  double lifter_diameter_m;
  double lobe_separation_deg;                          /* of the cam */
  double inlet_centreline_deg, exhaust_centreline_deg; /* of the crank, ATDC and BTDC */
  double advance_deg;                                  /* of the crank */
};

/* One side of the valve train: `inlet:` or `exhaust:`. Angles are of the crank. */
struct ew_engine_valves {
  int count; /* valves of this side a cylinder */
  double head_diameter_m, throat_diameter_m, stem_diameter_m, seat_width_m, seat_angle_deg;
  double valve_angle_deg; /* stem against the bore's axis */
  double lobe_lift_m, gross_lift_m, rocker_ratio, lash_m;
  double duration_deg, duration_lift_m, check_duration_deg, check_lift_m;
  double opens_deg, closes_deg; /* at check_lift: IVO BTDC, IVC ABDC or EVO BBDC, EVC ATDC */
  double ramp_height_m, ramp_length_deg;
  GArray *lobe_angles, *lobe_readings; /* a measured lobe: degrees, m */
  double reading_resolution_m;
  GArray *flow_lifts, *flows; /* flow bench: m, m3/s of one valve or the pair as measured */
  double flow_depression_pa, flow_temperature_k, flow_pressure_pa;
  double spring_height_m, spring_force_n, spring_rate_n_m, spring_bind_m, spring_open_force_n;
  double valve_mass_kg, retainer_mass_kg, spring_mass_kg, rocker_inertia_kg_m2, rocker_arm_m;
  double pushrod_mass_kg, lifter_mass_kg, effective_mass_kg;
  double piston_gap_m; /* closed valve to piston along the stem, at TDC */
  double retainer_to_seal_m;
  double tip_height_m; /* rocker tip above the pivot, along the stem, valve closed */
};

struct ew_engine_breathing {
  double volumetric_efficiency, air_pressure_pa, air_temperature_k;
  double expected_power_w, power_speed_rpm, expected_torque_n_m, torque_speed_rpm;
  int throttles;
  double throttle_diameter_m, throttle_speed_m_s;
  double carburettor_flow_m3_s, carburettor_depression_pa;
  double plenum_m3, runner_length_m, runner_diameter_m;
  double primary_length_m, primary_diameter_m, exhaust_temperature_k;
  double collector_length_m, collector_diameter_m;
  double runner_bends, primary_bends; /* sums of loss coefficients on the velocity head */
  double inlet_wall_k;
  int exhaust_end; /* 0 open pipes, 1 silencer */
  double back_pressure_pa;
  int air_cleaner; /* 0 none, 1 fitted */
  double cleaner_depression_pa;
};

struct ew_engine_fuel_system {
  double specific_fuel_kg_j, density_kg_m3;
  int injectors;
  double injector_flow_m3_s, injector_pressure_pa, fuel_pressure_pa, duty_limit;
  double pump_flow_m3_s, pump_reserve;
  double jet_diameter_m, jet_lambda_now, jet_lambda_wanted;
};

struct ew_engine_torsion {
  double coupling_stiffness_n_m_rad, shaft_inertia_kg_m2, shaft_stiffness_n_m_rad;
  double absorber_inertia_kg_m2;
  double absorber_torque_n_m, absorber_power_w, absorber_speed_rpm;
  double water_rise_k, air_rise_k, heat_to_air;
};

struct ew_engine_balance {
  double piston_kg, pin_kg, rings_kg, locks_kg, rod_small_kg, rod_big_kg, bearing_kg, oil_kg;
  double cap_kg; /* the part of the rod beyond its bolts' seats */
  double reciprocating_share;
  int rods_a_pin;
};

/* Readings of a degree wheel on one inlet lobe; positive after TDC, as the wheel turns. */
struct ew_engine_degree_in {
  double stop_first_deg, stop_second_deg;           /* wheel at the positive stop, both ways */
  double near_peak_first_deg, near_peak_second_deg; /* equal lift on both sides of the nose */
  double opens_btdc_deg, closes_abdc_deg;           /* at the cam's check lift */
};

struct ew_engine {
  char *name, *serial, *owner, *fuel, *equipment;
  int cylinders, strokes; /* strokes: index into the choices 4, 2 */
  double bore_m, stroke_m, displacement_stated_m3;
  double agreed_limit_rpm; /* what was agreed with the customer */
  double valve_train_limit_rpm, rod_limit_rpm, crank_limit_rpm, damper_limit_rpm;
  double idle_speed_rpm;
  double inertia_kg_m2; /* engine, flywheel and clutch */
  double lambda_target, stoichiometric_ratio;
  double octane; /* research octane number */
  int cooling;   /* 0 liquid, 1 air */
  int plugs;     /* spark plugs a cylinder, 1 or 2 */
  int head;      /* enum ew_head_kind of cycle/head_kind.h: 0 not stated */
  struct ew_engine_geometry geometry;
  struct ew_engine_compression compression;
  struct ew_engine_cam cam;
  struct ew_engine_valves inlet, exhaust;
  struct ew_engine_breathing breathing;
  struct ew_engine_fuel_system fuel_system;
  struct ew_engine_torsion torsion;
  struct ew_engine_balance balance;
  struct ew_engine_degree_in degree_in;
};

/* The top-level fields. Never hand it to ew_fields_copy or _clear: the groups own memory too. */
extern const struct ew_fields ew_engine_fields;

struct ew_engine_group {
  const char *key;     /* in YAML and JSON */
  const char *heading; /* in template and manual */
  const struct ew_fields *fields;
  gsize offset; /* of its struct in struct ew_engine */
};
extern const struct ew_engine_group ew_engine_groups[];
extern const gsize ew_engine_groups_count;

/* Read from a YAML or JSON tree into memory that need not be set before. Refuses unknown fields and
 * groups, figures out of range, and figures that contradict each other (engine_rules.c). On refusal
 * the struct holds no memory. */
gboolean ew_engine_read(const struct ew_node *map, const char *where, struct ew_engine *engine,
                        GError **error);
void ew_engine_clear(struct ew_engine *engine);
void ew_engine_copy(const struct ew_engine *from, struct ew_engine *to); /* to: not set before */
/* Set all defaults in memory that need not be set before. */
void ew_engine_defaults(struct ew_engine *engine);

/* Members of the engine inside an open JSON object: its fields, and one object for each group. */
void ew_engine_write_json(const struct ew_engine *engine, struct ew_json *json);
/* Canonical YAML, which ew_engine_read reads to the same engine. */
char *ew_engine_write_yaml(const struct ew_engine *engine);
/* A commented file to start from, which can be read as it stands. */
char *ew_engine_template(void);
/* One line a field, for the manual; a heading for each group. */
char *ew_engine_manual(void);

/* What figures contradict each other; called by ew_engine_read. */
gboolean ew_engine_agrees(const struct ew_engine *engine, const char *where, GError **error);

/* pi/4 bore^2 stroke cylinders, or the stated displacement where bore and stroke are not given. */
double ew_engine_displacement_m3(const struct ew_engine *engine);
/* Working cycles per turn of the crank: 1/2 for a four-stroke, 1 for a two-stroke. */
double ew_engine_cycles_per_turn(const struct ew_engine *engine);
/* The lowest mechanical limit given, and its name; NaN and NULL when none is given. */
double ew_engine_lowest_limit_rpm(const struct ew_engine *engine,
                                  const struct ew_message_kind **which);
/* The highest speed the engine is meant for: what was agreed, else the lowest limit given, else the
 * speed of expected power; NaN when none is given. */
double ew_engine_top_speed_rpm(const struct ew_engine *engine);
