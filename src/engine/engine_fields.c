/* The field tables of an engine: the only place where a field is described.
 *
 * Ranges are wide on purpose: they catch a slipped decimal point or a wrong unit, not a bold
 * design. Defaults marked "common practice" have no source and are the shop's to change. */
#include "base/language.h"
#include "engine/engine.h"

#define CP EW_TEXT("common practice, no source")

#define ENTRY(record, member, name_, type_, kind_, low, high, help_, ...)                          \
  {                                                                                                \
    .name = name_, .type = EW_FIELD_##type_, .kind = EW_KIND_##kind_,                              \
    .offset = offsetof(struct record, member), .minimum = low, .maximum = high, .help = help_,     \
    __VA_ARGS__                                                                                    \
  }

/* What one would turn before an engine is built, how far and by what step: a choice for sliders. */
#define TURN(reach, step) .turn_reach = reach, .turn_step = step

static const char *const strokes_choices[] = {"4", "2", NULL};
static const char *const cooling_choices[] = {EW_TEXT("liquid"), EW_TEXT("air"), NULL};
static const char *const head_choices[] = {
    EW_TEXT("not stated"),       EW_TEXT("side valves"), EW_TEXT("two valves, wedge"),
    EW_TEXT("two valves, hemi"), EW_TEXT("four valves"), NULL};
static const char *const exhaust_end_choices[] = {EW_TEXT("open pipes"), EW_TEXT("silencer"), NULL};
static const char *const air_cleaner_choices[] = {EW_TEXT("none"), EW_TEXT("fitted"), NULL};
static const char *const layout_choices[] = {EW_TEXT("inline"), EW_TEXT("vee"), EW_TEXT("flat"),
                                             NULL};
static const char *const lifter_choices[] = {EW_TEXT("flat solid"),     EW_TEXT("roller solid"),
                                             EW_TEXT("flat hydraulic"), EW_TEXT("roller hydraulic"),
                                             EW_TEXT("bucket"),         NULL};

#define E(member, name, type, kind, low, high, help, ...)                                          \
  ENTRY(ew_engine, member, name, type, kind, low, high, help, __VA_ARGS__)
#define LIMIT(member, name, help, ...)                                                             \
  E(member, name, QUANTITY, ROTATIONAL_SPEED, 500, 25000, help, __VA_ARGS__)

static const struct ew_field engine_fields[] = {
    E(name, "name", TEXT, NUMBER, 0, 0, EW_TEXT("what the shop calls this engine"),
      .section = EW_TEXT("Who it is"), .example = "\"name of the engine\""),
    E(serial, "serial", TEXT, NUMBER, 0, 0, EW_TEXT("serial number or build number"),
      .example = "\"number on the block\""),
    E(owner, "owner", TEXT, NUMBER, 0, 0, EW_TEXT("for whom it is built"),
      .example = "\"whose it is\""),
    E(equipment, "equipment", TEXT, NUMBER, 0, 0,
      EW_TEXT(
          "equipment fitted and driven during a test: pumps, alternator, air cleaner, silencer"),
      .example = "\"water pump driven; no alternator, no fan\""),
    E(strokes, "strokes", CHOICE, NUMBER, 0, 0, EW_TEXT("strokes of the working cycle"),
      .choices = strokes_choices, .fallback = "4", .section = EW_TEXT("Size")),
    E(cooling, "cooling", CHOICE, NUMBER, 0, 0, EW_TEXT("how the cylinders are cooled"),
      .choices = cooling_choices, .fallback = "liquid"),
    E(head, "head", CHOICE, NUMBER, 0, 0,
      EW_TEXT(
          "kind of head: what a prediction takes for valves, ports and burning where they are not "
          "measured"),
      .choices = head_choices, .fallback = "not stated"),
    E(plugs, "plugs", INTEGER, COUNT, 1, 2,
      EW_TEXT(
          "spark plugs a cylinder, of which two sit at opposite sides and halve the flame's way"),
      .fallback = "1"),
    E(cylinders, "cylinders", INTEGER, COUNT, 1, 24, EW_TEXT("number of cylinders"),
      .fallback = "4"),
    E(bore_m, "bore", QUANTITY, LENGTH, 0.02, 0.3, EW_TEXT("cylinder bore"), .example = "86 mm"),
    E(stroke_m, "stroke", QUANTITY, LENGTH, 0.02, 0.4, EW_TEXT("twice the crank throw"),
      .example = "86 mm"),
    E(displacement_stated_m3, "displacement", QUANTITY, VOLUME, 2e-5, 0.1,
      EW_TEXT("swept volume of all cylinders, when bore and stroke are not given"),
      .example = "1998 cc"),
    E(fuel, "fuel", TEXT, NUMBER, 0, 0,
      EW_TEXT("name of a fuel the program knows, such as petrol, E85, methanol"),
      .section = EW_TEXT("Fuel"), .example = "petrol"),
    E(octane, "octane", QUANTITY, NUMBER, 60, 140,
      EW_TEXT("research octane number of the fuel, as sold or as tested"), TURN(8, 1),
      .example = "98"),
    E(stoichiometric_ratio, "stoichiometric_ratio", QUANTITY, AIR_FUEL_RATIO, 1, 40,
      EW_TEXT("air-fuel ratio at lambda 1, when the batch is known better than its name tells"),
      .example = "14.2 AFR"),
    E(lambda_target, "lambda_target", QUANTITY, LAMBDA, 0.6, 1.3,
      EW_TEXT("mixture wanted at full load"), .example = "0.88", TURN(0.15, 0.01)),
    LIMIT(agreed_limit_rpm, "agreed_limit", EW_TEXT("highest speed agreed with the customer"),
          .section = EW_TEXT("Limits of speed"), .example = "7000 rpm"),
    LIMIT(
        valve_train_limit_rpm, "valve_train_limit",
        EW_TEXT(
            "speed at which the valves lose contact, when it is known better than from its parts"),
        .example = "7600 rpm"),
    LIMIT(rod_limit_rpm, "rod_limit", EW_TEXT("limit of rods and bolts, from their maker"),
          .example = "7800 rpm"),
    LIMIT(crank_limit_rpm, "crank_limit", EW_TEXT("limit of the crankshaft, from its maker"),
          .example = "8000 rpm"),
    LIMIT(damper_limit_rpm, "damper_limit", EW_TEXT("limit of the crank damper, from its maker"),
          .example = "8000 rpm"),
    E(idle_speed_rpm, "idle_speed", QUANTITY, ROTATIONAL_SPEED, 200, 5000,
      EW_TEXT("speed at which the engine idles on the test stand"), .example = "1100 rpm"),
    E(inertia_kg_m2, "inertia", QUANTITY, INERTIA, 0.001, 20,
      EW_TEXT("moment of inertia of engine, flywheel and clutch"), .section = EW_TEXT("Inertia"),
      .example = "0.155 kg·m2"),
};

#define G(member, name, type, kind, low, high, help, ...)                                          \
  ENTRY(ew_engine_geometry, member, name, type, kind, low, high, help, __VA_ARGS__)
static const struct ew_field geometry_fields[] = {
    G(rod_length_m, "rod_length", QUANTITY, LENGTH, 0.02, 1,
      EW_TEXT("connecting rod, centre to centre"), .example = "145 mm"),
    G(pin_offset_m, "pin_offset", QUANTITY, LENGTH, -0.02, 0.02,
      EW_TEXT("offset of the gudgeon pin from the crank's axis, positive towards the thrust side"),
      .fallback = "0 mm"),
    G(layout, "layout", CHOICE, NUMBER, 0, 0, EW_TEXT("how the cylinders are arranged"),
      .choices = layout_choices, .fallback = "inline"),
    G(bank_angle_deg, "bank_angle", QUANTITY, ANGLE, 0, 180,
      EW_TEXT("angle between the banks of a vee"), .example = "90 deg"),
    G(firing_order, "firing_order", NUMBERS, COUNT, 1, 24,
      EW_TEXT("cylinder numbers in the order they fire"), .example = "[1, 3, 4, 2]"),
    G(firing_angles, "firing_angles", NUMBERS, ANGLE, 0, 720,
      EW_TEXT("crank angles at which they fire, in the same order, when the intervals are uneven"),
      .example = "[0 deg, 180 deg, 360 deg, 540 deg]"),
    G(banks, "banks", NUMBERS, COUNT, 1, 2,
      EW_TEXT("bank (1 or 2) of each cylinder, from cylinder 1 on"), .example = "[1, 2, 1, 2]"),
    G(bore_spacing_m, "bore_spacing", QUANTITY, LENGTH, 0.02, 0.5,
      EW_TEXT("distance between neighbouring bores of one bank"), .example = "94 mm"),
    G(bank_stagger_m, "bank_stagger", QUANTITY, LENGTH, -0.2, 0.2,
      EW_TEXT("how far bank 2 is set back from bank 1"), .fallback = "0 mm"),
};

#define C(member, name, type, kind, low, high, help, ...)                                          \
  ENTRY(ew_engine_compression, member, name, type, kind, low, high, help, __VA_ARGS__)
static const struct ew_field compression_fields[] = {
    C(chambers, "chambers", NUMBERS, VOLUME, 1e-6, 1e-3,
      EW_TEXT("measured chamber of each cylinder, from cylinder 1 on"), TURN(8e-6, 1e-7),
      .example = "[44.0 cc, 44.2 cc, 44.1 cc, 44.0 cc]"),
    C(chamber_m3, "chamber", QUANTITY, VOLUME, 1e-6, 1e-3,
      EW_TEXT("one figure for all chambers, when they were not measured one by one"),
      TURN(8e-6, 1e-7), .example = "44 cc"),
    C(gasket_bore_m, "gasket_bore", QUANTITY, LENGTH, 0.02, 0.35,
      EW_TEXT("bore of the head gasket"), .example = "87.5 mm"),
    C(gasket_thickness_m, "gasket_thickness", QUANTITY, LENGTH, 0, 0.01,
      EW_TEXT("thickness of the head gasket, tightened"), TURN(1e-3, 5e-5), .example = "1.00 mm"),
    C(gasket_volume_m3, "gasket_volume", QUANTITY, VOLUME, 0, 1e-4,
      EW_TEXT("volume of the gasket, when its hole is not round"), .example = "6.2 cc"),
    C(deck_m, "deck", QUANTITY, LENGTH, -0.02, 0.05,
      EW_TEXT("piston at top dead centre: below the deck is positive, above it negative"),
      .fallback = "0 mm"),
    C(dome_m3, "dome", QUANTITY, VOLUME, 0, 5e-4, EW_TEXT("volume of a dome on the piston"),
      .fallback = "0 cc"),
    C(dish_m3, "dish", QUANTITY, VOLUME, 0, 5e-4, EW_TEXT("volume of dish and valve pockets"),
      .fallback = "0 cc"),
    C(crevice_m3, "crevice", QUANTITY, VOLUME, 0, 5e-5, EW_TEXT("volume above the top ring"),
      .fallback = "0 cc"),
    C(ratio_stated, "ratio", QUANTITY, NUMBER, 3, 30,
      EW_TEXT("compression ratio, when volumes are not measured"), TURN(3, 0.1), .example = "10.5"),
    C(ratio_wanted, "wanted_ratio", QUANTITY, NUMBER, 3, 30,
      EW_TEXT("compression ratio to be reached: the program says how"), .example = "11.0"),
};

#define K(member, name, type, kind, low, high, help, ...)                                          \
  ENTRY(ew_engine_cam, member, name, type, kind, low, high, help, __VA_ARGS__)
static const struct ew_field cam_fields[] = {
    K(lifter, "lifter", CHOICE, NUMBER, 0, 0, EW_TEXT("kind of lifter or tappet"),
      .choices = lifter_choices, .fallback = "flat solid"),
    K(lifter_diameter_m, "lifter_diameter", QUANTITY, LENGTH, 0.005, 0.08,
      EW_TEXT("face of a flat lifter or bucket"), .example = "24 mm"),
    K(lobe_separation_deg, "lobe_separation", QUANTITY, ANGLE, 80, 140,
      EW_TEXT("angle between the lobes' centrelines, in degrees of the cam"), TURN(10, 0.5),
      .example = "108 deg"),
    K(inlet_centreline_deg, "inlet_centreline", QUANTITY, ANGLE, 60, 160,
      EW_TEXT("centre of the inlet lobe, crank degrees after top dead centre"), TURN(12, 0.5),
      .example = "106 deg"),
    K(exhaust_centreline_deg, "exhaust_centreline", QUANTITY, ANGLE, 60, 160,
      EW_TEXT("centre of the exhaust lobe, crank degrees before top dead centre"), TURN(12, 0.5),
      .example = "110 deg"),
    K(advance_deg, "advance", QUANTITY, ANGLE, -40, 40,
      EW_TEXT("lobe separation less inlet centreline, when that is how the cam is set"),
      TURN(12, 0.5), .example = "2 deg"),
};

#define V(member, name, type, kind, low, high, help, ...)                                          \
  ENTRY(ew_engine_valves, member, name, type, kind, low, high, help, __VA_ARGS__)
static const struct ew_field valves_fields[] = {
    V(count, "valves", INTEGER, COUNT, 1, 4, EW_TEXT("valves of this side a cylinder"),
      .fallback = "1", .section = EW_TEXT("Valve and seat")),
    V(head_diameter_m, "head_diameter", QUANTITY, LENGTH, 0.008, 0.12,
      EW_TEXT("diameter of the head"), .example = "42 mm"),
    V(throat_diameter_m, "throat_diameter", QUANTITY, LENGTH, 0.006, 0.12,
      EW_TEXT("smallest diameter of the port behind the seat"), .example = "37 mm"),
    V(stem_diameter_m, "stem_diameter", QUANTITY, LENGTH, 0.003, 0.02,
      EW_TEXT("diameter of the stem"), .example = "7 mm"),
    V(seat_width_m, "seat_width", QUANTITY, LENGTH, 0.0003, 0.006,
      EW_TEXT("width of the seat along its cone"), .example = "1.4 mm"),
    V(seat_angle_deg, "seat_angle", QUANTITY, ANGLE, 15, 60,
      EW_TEXT("seat against the head's plane"), .fallback = "45 deg", .origin = CP),
    V(valve_angle_deg, "valve_angle", QUANTITY, ANGLE, 0, 60,
      EW_TEXT("stem against the bore's axis"), .fallback = "0 deg"),
    V(lobe_lift_m, "lobe_lift", QUANTITY, LENGTH, 0.001, 0.03, EW_TEXT("lift of the lobe"),
      .section = EW_TEXT("Lobe"), TURN(2e-3, 5e-5), .example = "7.5 mm"),
    V(rocker_ratio, "rocker_ratio", QUANTITY, NUMBER, 0.8, 2.5,
      EW_TEXT("valve's travel over lifter's"), .fallback = "1", TURN(0.25, 0.01)),
    V(gross_lift_m, "gross_lift", QUANTITY, LENGTH, 0.001, 0.04,
      EW_TEXT("valve lift without lash, when the lobe's lift is not given"), TURN(3e-3, 1e-4),
      .example = "11.6 mm"),
    V(lash_m, "lash", QUANTITY, LENGTH, 0, 0.002, EW_TEXT("clearance at the valve, running (hot)"),
      .fallback = "0 mm", TURN(2e-4, 1e-5)),
    V(duration_deg, "duration", QUANTITY, ANGLE, 120, 400,
      EW_TEXT("crank degrees for which the lobe is above duration_lift"), TURN(24, 1),
      .turn_with = "check_duration", .example = "280 deg"),
    V(duration_lift_m, "duration_lift", QUANTITY, LENGTH, 0.00005, 0.0015,
      EW_TEXT("lift of the lobe at which duration is stated"), .fallback = "0.5 mm", .origin = CP),
    V(check_duration_deg, "check_duration", QUANTITY, ANGLE, 100, 380,
      EW_TEXT("crank degrees for which the lobe is above check_lift"), TURN(24, 1),
      .example = "244 deg"),
    V(check_lift_m, "check_lift", QUANTITY, LENGTH, 0.0002, 0.006,
      EW_TEXT("lift of the lobe at which check_duration and the events are stated"),
      .fallback = "1.27 mm", .origin = EW_TEXT("common practice, no source: 0.050 in")),
    V(opens_deg, "opens", QUANTITY, ANGLE, -90, 130,
      EW_TEXT("event at check_lift: inlet before top, exhaust before bottom dead centre"),
      .example = "16 deg"),
    V(closes_deg, "closes", QUANTITY, ANGLE, -90, 130,
      EW_TEXT("event at check_lift: inlet after bottom, exhaust after top dead centre"),
      .example = "48 deg"),
    V(ramp_height_m, "ramp_height", QUANTITY, LENGTH, 0.00002, 0.0012,
      EW_TEXT("height of the lobe's opening and closing ramp"), .example = "0.32 mm"),
    V(ramp_length_deg, "ramp_length", QUANTITY, ANGLE, 5, 120,
      EW_TEXT("length of the ramp in crank degrees"), .example = "34 deg"),
    V(lobe_angles, "lobe_angles", NUMBERS, ANGLE, -720, 1440,
      EW_TEXT("a measured lobe: crank degrees as read on the wheel"),
      .example = "[0 deg, 5 deg, 10 deg]"),
    V(lobe_readings, "lobe_readings", NUMBERS, LENGTH, -0.002, 0.03,
      EW_TEXT("a measured lobe: lifter's travel at those angles"),
      .example = "[0.00 mm, 0.01 mm, 0.04 mm]"),
    V(reading_resolution_m, "reading_resolution", QUANTITY, LENGTH, 1e-7, 0.0005,
      EW_TEXT("resolution of the dial"), .fallback = "0.01 mm"),
    V(flow_lifts, "flow_lifts", NUMBERS, LENGTH, 0.0001, 0.04, EW_TEXT("flow bench: valve lifts"),
      .section = EW_TEXT("Flow bench"), .example = "[2 mm, 4 mm, 6 mm, 8 mm, 10 mm]"),
    V(flows, "flows", NUMBERS, VOLUME_FLOW, 1e-5, 2,
      EW_TEXT(
          "flow bench: volume flow at those lifts, in air of the room, all valves of this side"),
      .example = "[40 cfm, 82 cfm, 118 cfm, 141 cfm, 152 cfm]"),
    V(flow_depression_pa, "flow_depression", QUANTITY, PRESSURE_DIFFERENCE, 200, 30000,
      EW_TEXT("flow bench: pressure difference"), .example = "7 kPa"),
    V(flow_temperature_k, "flow_temperature", QUANTITY, TEMPERATURE, 250, 330,
      EW_TEXT("flow bench: temperature of the air"), .fallback = "20 degC", .origin = CP),
    V(flow_pressure_pa, "flow_pressure", QUANTITY, PRESSURE_ABSOLUTE, 60000, 110000,
      EW_TEXT("flow bench: pressure of the room"), .fallback = "1013.25 hPa",
      .origin = EW_TEXT("ISO 2533")),
    V(spring_height_m, "spring_height", QUANTITY, LENGTH, 0.01, 0.12, EW_TEXT("installed height"),
      .section = EW_TEXT("Spring"), .example = "47 mm"),
    V(spring_force_n, "spring_force", QUANTITY, FORCE, 20, 5000,
      EW_TEXT("force at the installed height, all springs of one valve"), .example = "480 N"),
    V(spring_rate_n_m, "spring_rate", QUANTITY, STIFFNESS, 1000, 400000,
      EW_TEXT("rate, all springs of one valve"), .example = "62 N/mm"),
    V(spring_bind_m, "spring_bind", QUANTITY, LENGTH, 0.005, 0.1,
      EW_TEXT("height at which coils touch"), .example = "33.6 mm"),
    V(spring_open_force_n, "spring_open_force", QUANTITY, FORCE, 50, 10000,
      EW_TEXT("force at full lift, as tested"), .example = "1180 N"),
    V(retainer_to_seal_m, "retainer_to_seal", QUANTITY, LENGTH, 0.001, 0.05,
      EW_TEXT("retainer to stem seal or guide, valve closed"), .example = "13.6 mm"),
    V(valve_mass_kg, "valve_mass", QUANTITY, MASS, 0.005, 1, EW_TEXT("valve"),
      .section = EW_TEXT("Moving parts"), .example = "114 g"),
    V(retainer_mass_kg, "retainer_mass", QUANTITY, MASS, 0.001, 0.3, EW_TEXT("retainer and locks"),
      .example = "24 g"),
    V(spring_mass_kg, "spring_mass", QUANTITY, MASS, 0.005, 0.5, EW_TEXT("springs of one valve"),
      .example = "96 g"),
    V(rocker_inertia_kg_m2, "rocker_inertia", QUANTITY, INERTIA, 1e-7, 0.01,
      EW_TEXT("moment of inertia of one rocker about its pivot"), .example = "0.00018 kg·m2"),
    V(rocker_arm_m, "rocker_arm", QUANTITY, LENGTH, 0.01, 0.15,
      EW_TEXT("rocker: pivot to the point that touches the valve"), .example = "39 mm"),
    V(pushrod_mass_kg, "pushrod_mass", QUANTITY, MASS, 0.003, 0.5, EW_TEXT("one pushrod"),
      .example = "75 g"),
    V(lifter_mass_kg, "lifter_mass", QUANTITY, MASS, 0.005, 0.5, EW_TEXT("one lifter or bucket"),
      .example = "110 g"),
    V(effective_mass_kg, "effective_mass", QUANTITY, MASS, 0.01, 2,
      EW_TEXT("moving mass reduced to the valve, when its parts are not weighed"),
      .example = "360 g"),
    V(piston_gap_m, "piston_gap", QUANTITY, LENGTH, -0.005, 0.05,
      EW_TEXT("closed valve to piston along the stem, at top dead centre"),
      .section = EW_TEXT("Clearances"), .example = "6.6 mm"),
    V(tip_height_m, "tip_height", QUANTITY, LENGTH, -0.02, 0.03,
      EW_TEXT("rocker's tip above its pivot along the stem, valve closed"), .example = "6.0 mm"),
};

#define B(member, name, type, kind, low, high, help, ...)                                          \
  ENTRY(ew_engine_breathing, member, name, type, kind, low, high, help, __VA_ARGS__)
static const struct ew_field breathing_fields[] = {
    B(volumetric_efficiency, "volumetric_efficiency", QUANTITY, RATIO, 0.2, 3,
      EW_TEXT("air of one cycle over displacement full of air_pressure and air_temperature"),
      .fallback = "0.95", .origin = CP),
    B(air_pressure_pa, "air_pressure", QUANTITY, PRESSURE_ABSOLUTE, 50000, 110000,
      EW_TEXT("dry air at the inlet"), .fallback = "990 hPa", .origin = EW_TEXT("after J1349"),
      TURN(1.5e4, 500)),
    B(air_temperature_k, "air_temperature", QUANTITY, TEMPERATURE, 230, 340,
      EW_TEXT("air at the inlet"), .fallback = "25 degC", .origin = EW_TEXT("after J1349"),
      TURN(25, 1)),
    B(expected_power_w, "expected_power", QUANTITY, POWER, 100, 5e6,
      EW_TEXT("brake power hoped for"), .example = "140 kW"),
    B(power_speed_rpm, "power_speed", QUANTITY, ROTATIONAL_SPEED, 500, 25000,
      EW_TEXT("speed of that power"), .example = "6600 rpm"),
    B(expected_torque_n_m, "expected_torque", QUANTITY, TORQUE, 1, 20000,
      EW_TEXT("greatest brake torque hoped for"), .example = "215 N·m"),
    B(torque_speed_rpm, "torque_speed", QUANTITY, ROTATIONAL_SPEED, 300, 25000,
      EW_TEXT("speed of that torque"), .example = "5500 rpm"),
    B(throttles, "throttles", INTEGER, COUNT, 1, 24,
      EW_TEXT("number of throttle plates or barrels"), .fallback = "1"),
    B(throttle_diameter_m, "throttle_diameter", QUANTITY, LENGTH, 0.01, 0.2,
      EW_TEXT("one throttle"), TURN(1e-2, 5e-4), .example = "45 mm"),
    B(throttle_speed_m_s, "throttle_speed", QUANTITY, SPEED, 20, 200,
      EW_TEXT("mean air speed wanted in the throttle while it flows"), .fallback = "90 m/s",
      .origin = CP),
    B(carburettor_flow_m3_s, "carburettor_flow", QUANTITY, VOLUME_FLOW, 0.001, 2,
      EW_TEXT("rated flow of all carburettors"), .example = "500 cfm"),
    B(carburettor_depression_pa, "carburettor_depression", QUANTITY, PRESSURE_DIFFERENCE, 500,
      20000, EW_TEXT("depression of that rating"), .fallback = "1.5 inHg", .origin = CP),
    B(plenum_m3, "plenum", QUANTITY, VOLUME, 1e-5, 0.1, EW_TEXT("volume behind a common throttle"),
      .example = "4.0 L"),
    B(runner_length_m, "runner_length", QUANTITY, LENGTH, 0.03, 2,
      EW_TEXT("inlet tract, valve to mouth"), TURN(0.2, 5e-3), .example = "340 mm"),
    B(runner_diameter_m, "runner_diameter", QUANTITY, LENGTH, 0.01, 0.15,
      EW_TEXT("mean diameter of the inlet tract"), TURN(1e-2, 5e-4), .example = "42 mm"),
    B(primary_length_m, "primary_length", QUANTITY, LENGTH, 0.1, 3,
      EW_TEXT("exhaust primary, valve to collector"), TURN(0.4, 1e-2), .example = "860 mm"),
    B(primary_diameter_m, "primary_diameter", QUANTITY, LENGTH, 0.01, 0.15,
      EW_TEXT("bore of the exhaust primary"), TURN(1e-2, 5e-4), .example = "41 mm"),
    B(collector_length_m, "collector_length", QUANTITY, LENGTH, 0.05, 5,
      EW_TEXT("exhaust collector and tail, from the primaries to the open air, when three or more "
              "meet"),
      TURN(0.5, 2e-2), .example = "1000 mm"),
    B(collector_diameter_m, "collector_diameter", QUANTITY, LENGTH, 0.01, 0.3,
      EW_TEXT("bore of collector and tail"), TURN(2e-2, 1e-3), .example = "65 mm"),
    B(runner_bends, "runner_bends", QUANTITY, NUMBER, 0, 10,
      EW_TEXT("inlet tract's bends and entrance: sum of loss coefficients on the velocity head"),
      .example = "0.4"),
    B(primary_bends, "primary_bends", QUANTITY, NUMBER, 0, 10,
      EW_TEXT("exhaust primary's bends: sum of loss coefficients on the velocity head"),
      .example = "0.5"),
    B(inlet_wall_k, "inlet_wall", QUANTITY, TEMPERATURE, 250, 420,
      EW_TEXT("wall of runners and manifold when the engine is warm"), .example = "65 degC"),
    B(exhaust_end, "exhaust_end", CHOICE, NUMBER, 0, 0,
      EW_TEXT("what the exhaust ends in when it is tested"), .choices = exhaust_end_choices,
      .fallback = "open pipes"),
    B(back_pressure_pa, "back_pressure", QUANTITY, PRESSURE_DIFFERENCE, 100, 150000,
      EW_TEXT(
          "mean pressure before the silencer above the room's, at power_speed and full throttle"),
      .example = "15 kPa"),
    B(air_cleaner, "air_cleaner", CHOICE, NUMBER, 0, 0, EW_TEXT("what the inlet breathes through"),
      .choices = air_cleaner_choices, .fallback = "none"),
    B(cleaner_depression_pa, "cleaner_depression", QUANTITY, PRESSURE_DIFFERENCE, 50, 30000,
      EW_TEXT("mean depression behind the air cleaner, at power_speed and full throttle"),
      .example = "2 kPa"),
    B(exhaust_temperature_k, "exhaust_temperature", QUANTITY, TEMPERATURE, 500, 1400,
      EW_TEXT("mean gas temperature in the primary"), .fallback = "650 degC", .origin = CP),
};

#define F(member, name, type, kind, low, high, help, ...)                                          \
  ENTRY(ew_engine_fuel_system, member, name, type, kind, low, high, help, __VA_ARGS__)
static const struct ew_field fuel_system_fields[] = {
    F(specific_fuel_kg_j, "specific_fuel", QUANTITY, SPECIFIC_FUEL, 2e-8, 6e-7,
      EW_TEXT("brake specific fuel consumption at expected power"), .example = "285 g/kWh"),
    F(density_kg_m3, "density", QUANTITY, DENSITY, 400, 1300,
      EW_TEXT("of this batch of fuel, where it is known better than by its name"),
      .example = "745 kg/m3"),
    F(injectors, "injectors", INTEGER, COUNT, 0, 48,
      EW_TEXT("number of injectors; 0 for a carburettor"), .fallback = "0"),
    F(injector_flow_m3_s, "injector_flow", QUANTITY, VOLUME_FLOW, 1e-7, 1e-4,
      EW_TEXT("static flow of one injector"), .example = "295 ml/min"),
    F(injector_pressure_pa, "injector_pressure", QUANTITY, PRESSURE_DIFFERENCE, 50000, 3e7,
      EW_TEXT("pressure across the injector at that flow"), .fallback = "300 kPa", .origin = CP),
    F(fuel_pressure_pa, "fuel_pressure", QUANTITY, PRESSURE_DIFFERENCE, 5000, 3e7,
      EW_TEXT("pressure across the injector in this engine: rail less manifold"),
      .example = "300 kPa"),
    F(duty_limit, "duty_limit", QUANTITY, RATIO, 0.3, 1, EW_TEXT("longest share of the cycle open"),
      .fallback = "0.85", .origin = CP),
    F(pump_flow_m3_s, "pump_flow", QUANTITY, VOLUME_FLOW, 1e-7, 1e-2,
      EW_TEXT("flow of the pump at the pressure it works against"), .example = "2.6 L/min"),
    F(pump_reserve, "pump_reserve", QUANTITY, RATIO, 0, 1, EW_TEXT("reserve wanted in the pump"),
      .fallback = "0.2", .origin = EW_TEXT("common practice, no source: 15 to 25 %")),
    F(jet_diameter_m, "jet_diameter", QUANTITY, LENGTH, 0.0003, 0.01,
      EW_TEXT("main jet now fitted"), .example = "1.60 mm"),
    F(jet_lambda_now, "jet_lambda_now", QUANTITY, LAMBDA, 0.5, 1.5,
      EW_TEXT("mixture measured with it"), .example = "0.92"),
    F(jet_lambda_wanted, "jet_lambda_wanted", QUANTITY, LAMBDA, 0.5, 1.5, EW_TEXT("mixture wanted"),
      .example = "0.88"),
};

#define T(member, name, type, kind, low, high, help, ...)                                          \
  ENTRY(ew_engine_torsion, member, name, type, kind, low, high, help, __VA_ARGS__)
static const struct ew_field torsion_fields[] = {
    T(coupling_stiffness_n_m_rad, "coupling_stiffness", QUANTITY, TORSIONAL_STIFFNESS, 10, 1e7,
      EW_TEXT("torsional stiffness of the coupling, from its maker"), .example = "2500 N·m/rad"),
    T(shaft_inertia_kg_m2, "shaft_inertia", QUANTITY, INERTIA, 0.0001, 20,
      EW_TEXT("shaft and coupling halves"), .example = "0.030 kg·m2"),
    T(shaft_stiffness_n_m_rad, "shaft_stiffness", QUANTITY, TORSIONAL_STIFFNESS, 10, 1e8,
      EW_TEXT("shaft to the absorber; left out, the shaft turns rigidly with the absorber"),
      .example = "20000 N·m/rad"),
    T(absorber_inertia_kg_m2, "absorber_inertia", QUANTITY, INERTIA, 0.0001, 100,
      EW_TEXT("absorber's rotor"), .example = "0.105 kg·m2"),
    T(absorber_torque_n_m, "absorber_torque", QUANTITY, TORQUE, 1, 50000,
      EW_TEXT("absorber's limit"), .example = "900 N·m"),
    T(absorber_power_w, "absorber_power", QUANTITY, POWER, 100, 2e7, EW_TEXT("absorber's limit"),
      .example = "400 kW"),
    T(absorber_speed_rpm, "absorber_speed", QUANTITY, ROTATIONAL_SPEED, 500, 30000,
      EW_TEXT("absorber's limit"), .example = "9000 rpm"),
    T(water_rise_k, "water_rise", QUANTITY, TEMPERATURE_DIFFERENCE, 5, 60,
      EW_TEXT("warming of the absorber's water"), .fallback = "30 K", .origin = CP),
    T(air_rise_k, "air_rise", QUANTITY, TEMPERATURE_DIFFERENCE, 2, 40,
      EW_TEXT("warming of the cell's air"), .fallback = "10 K", .origin = CP),
    T(heat_to_air, "heat_to_air", QUANTITY, RATIO, 0.01, 0.6,
      EW_TEXT("share of the fuel's heat that warms the cell's air"), .fallback = "0.15",
      .origin = EW_TEXT("common practice, no source: 10 to 20 %; more for an air-cooled engine")),
};

#define M(member, name, type, kind, low, high, help, ...)                                          \
  ENTRY(ew_engine_balance, member, name, type, kind, low, high, help, __VA_ARGS__)
static const struct ew_field balance_fields[] = {
    M(piston_kg, "piston", QUANTITY, MASS, 0.01, 10, EW_TEXT("piston"), .example = "352 g"),
    M(pin_kg, "pin", QUANTITY, MASS, 0.005, 5, EW_TEXT("gudgeon pin"), .example = "92 g"),
    M(rings_kg, "rings", QUANTITY, MASS, 0.001, 1, EW_TEXT("rings of one piston"),
      .example = "31 g"),
    M(locks_kg, "locks", QUANTITY, MASS, 0, 0.1, EW_TEXT("pin locks of one piston"),
      .fallback = "0 g"),
    M(rod_small_kg, "rod_small_end", QUANTITY, MASS, 0.005, 5,
      EW_TEXT("small end of the rod, as weighed"), .example = "162 g"),
    M(rod_big_kg, "rod_big_end", QUANTITY, MASS, 0.01, 10,
      EW_TEXT("big end of the rod, as weighed"), .example = "428 g"),
    M(bearing_kg, "bearing", QUANTITY, MASS, 0, 1, EW_TEXT("bearing shells of one rod"),
      .fallback = "0 g"),
    M(oil_kg, "oil", QUANTITY, MASS, 0, 0.1, EW_TEXT("oil allowed for on one pin"),
      .fallback = "5 g", .origin = CP),
    M(cap_kg, "cap", QUANTITY, MASS, 0, 5, EW_TEXT("rod cap, with the bolts' ends"),
      .fallback = "0 g"),
    M(reciprocating_share, "reciprocating_share", QUANTITY, RATIO, 0, 1,
      EW_TEXT("share of the reciprocating mass in the bobweight"), .fallback = "0.5",
      .origin = EW_TEXT("common practice, no source: a half for a 90-degree vee of eight")),
    M(rods_a_pin, "rods_a_pin", INTEGER, COUNT, 1, 4, EW_TEXT("rods on one crank pin"),
      .fallback = "1"),
};

#define D(member, name, type, kind, low, high, help, ...)                                          \
  ENTRY(ew_engine_degree_in, member, name, type, kind, low, high, help, __VA_ARGS__)
static const struct ew_field degree_in_fields[] = {
    D(stop_first_deg, "stop_first", QUANTITY, ANGLE, -180, 180,
      EW_TEXT("wheel at the positive stop, turning one way (after top dead centre is positive)"),
      .example = "31.5 deg"),
    D(stop_second_deg, "stop_second", QUANTITY, ANGLE, -180, 180,
      EW_TEXT("wheel at it, turning back"), .example = "-31.0 deg"),
    D(near_peak_first_deg, "near_peak_first", QUANTITY, ANGLE, -90, 200,
      EW_TEXT("wheel at a lift shortly before the inlet lobe's peak"), .example = "71.5 deg"),
    D(near_peak_second_deg, "near_peak_second", QUANTITY, ANGLE, 0, 300,
      EW_TEXT("wheel at the same lift after the peak"), .example = "140.5 deg"),
    D(opens_btdc_deg, "inlet_opens", QUANTITY, ANGLE, -90, 130,
      EW_TEXT("inlet opening at the check lift, before top dead centre"), .example = "16 deg"),
    D(closes_abdc_deg, "inlet_closes", QUANTITY, ANGLE, -90, 130,
      EW_TEXT("inlet closing at the check lift, after bottom dead centre"), .example = "48 deg"),
};

const struct ew_fields ew_engine_fields = {EW_TEXT("an engine"), sizeof(struct ew_engine),
                                           engine_fields, G_N_ELEMENTS(engine_fields)};

#define TABLE(name, record, type)                                                                  \
  static const struct ew_fields name##_table = {record, sizeof(struct type), name##_fields,        \
                                                G_N_ELEMENTS(name##_fields)}
TABLE(geometry, EW_TEXT("an engine's geometry"), ew_engine_geometry);
TABLE(compression, EW_TEXT("an engine's compression"), ew_engine_compression);
TABLE(cam, EW_TEXT("a camshaft"), ew_engine_cam);
TABLE(valves, EW_TEXT("one side of a valve train"), ew_engine_valves);
TABLE(breathing, EW_TEXT("an engine's breathing"), ew_engine_breathing);
TABLE(fuel_system, EW_TEXT("a fuel system"), ew_engine_fuel_system);
TABLE(torsion, EW_TEXT("a test stand's shaft line"), ew_engine_torsion);
TABLE(balance, EW_TEXT("an engine's balance"), ew_engine_balance);
TABLE(degree_in, EW_TEXT("a degree-in"), ew_engine_degree_in);

#define AT(member) offsetof(struct ew_engine, member)
const struct ew_engine_group ew_engine_groups[] = {
    {"geometry", EW_TEXT("Rods, banks and firing order"), &geometry_table, AT(geometry)},
    {"compression", EW_TEXT("Volumes above the piston"), &compression_table, AT(compression)},
    {"cam", EW_TEXT("Camshaft"), &cam_table, AT(cam)},
    {"inlet", EW_TEXT("Inlet valves and their train"), &valves_table, AT(inlet)},
    {"exhaust", EW_TEXT("Exhaust valves and their train"), &valves_table, AT(exhaust)},
    {"breathing", EW_TEXT("Air, throttles and pipes"), &breathing_table, AT(breathing)},
    {"fuel_system", EW_TEXT("Pump, injectors or jets"), &fuel_system_table, AT(fuel_system)},
    {"torsion", EW_TEXT("Coupling, shaft and absorber of the test stand"), &torsion_table,
     AT(torsion)},
    {"balance", EW_TEXT("Masses of piston and rod"), &balance_table, AT(balance)},
    {"degree_in", EW_TEXT("Readings of the degree wheel, inlet lobe of cylinder 1"),
     &degree_in_table, AT(degree_in)},
};
const gsize ew_engine_groups_count = G_N_ELEMENTS(ew_engine_groups);
