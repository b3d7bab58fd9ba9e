/* The field tables of the build record: the only place where its fields are described. */
#include "base/language.h"
#include "build/build.h"
#include <string.h>

#define F(member, name_, type_, kind_, low_, high_, help_, ...)                                    \
  {                                                                                                \
    .name = name_, .type = EW_FIELD_##type_, .kind = EW_KIND_##kind_,                              \
    .offset = offsetof(struct RECORD, member), .minimum = low_, .maximum = high_, .help = help_,   \
    __VA_ARGS__                                                                                    \
  }
#define T(member, name, help, ...) F(member, name, TEXT, NUMBER, 0, 0, help, __VA_ARGS__)
#define MARK                                                                                       \
  T(mark.at, "at", EW_TEXT("date, or date and time, ISO 8601")),                                   \
      T(mark.who, "who", EW_TEXT("who did it")), T(mark.note, "note", EW_TEXT("remark"))

/* The metals of engines that are built one at a time (common practice, no source). */
const char *const ew_build_materials[] = {EW_TEXT("cast iron"), EW_TEXT("aluminium"),
                                          EW_TEXT("magnesium"), EW_TEXT("steel"), NULL};
const char *const ew_build_by_names[] = {"engine", "main",    "rod",  "cylinder", "bore", "valve",
                                         "inlet",  "exhaust", "bank", "free",     NULL};
const char *const ew_build_gate_names[] = {EW_TEXT("none"), EW_TEXT("first fire"), EW_TEXT("load"),
                                           EW_TEXT("dispatch"), NULL};
static const char *const times_names[] = {"none",         "bore",          "stroke",
                                          "spring_force", "spring_height", NULL};
static const char *const order_names[] = {EW_TEXT("target"), EW_TEXT("change"), NULL};
static const char *const fluid_names[] = {EW_TEXT("part"), EW_TEXT("fluid"), NULL};
static const char *const grade_names[] = {EW_TEXT("fine"), EW_TEXT("watch"), EW_TEXT("stop"), NULL};
const char *const ew_build_state_names[] = {EW_TEXT("done"), EW_TEXT("does not apply"),
                                            EW_TEXT("failed"), NULL};

#define RECORD ew_build_facts
static const struct ew_field facts_fields[] = {
    T(build, "build", EW_TEXT("name of this build")),
    T(family, "family", EW_TEXT("tag that like engines share, to compare them")),
    T(block, "block", EW_TEXT("material of the block or cylinders")),
    T(head, "head", EW_TEXT("material of the heads")),
    T(rocker, "rocker",
      EW_TEXT("type of rocker; lash growth is learnt from builds with the same three")),
    F(mains, "mains", INTEGER, COUNT, 0, 30, EW_TEXT("main bearings; 0: by the layout"),
      .fallback = "0"),
    MARK};
#undef RECORD
#define RECORD ew_build_agreed
static const struct ew_field agreed_fields[] = {
    T(what, "what", EW_TEXT("what was agreed, in words")),
    F(order, "order", CHOICE, NUMBER, 0, 0, EW_TEXT("target, or a change of it"),
      .choices = order_names, .fallback = "target"),
    F(power_w, "power", QUANTITY, POWER, 100, 1e7, EW_TEXT("power agreed")),
    F(power_speed_rpm, "power_speed", QUANTITY, ROTATIONAL_SPEED, 300, 25000,
      EW_TEXT("speed of that power")),
    F(torque_n_m, "torque", QUANTITY, TORQUE, 1, 1e5, EW_TEXT("torque agreed")),
    F(limit_rpm, "limit", QUANTITY, ROTATIONAL_SPEED, 300, 25000, EW_TEXT("highest speed agreed")),
    T(fuel, "fuel", EW_TEXT("fuel agreed")),
    MARK};
#undef RECORD
/* In the next two tables a quantity of EW_KIND_NUMBER is of the kind that the item measures. */
#define RECORD ew_build_item
static const struct ew_field item_fields[] = {
    T(item, "item", EW_TEXT("name of what is measured")),
    T(kind, "kind",
      EW_TEXT("length, force, torque, volume, volume flow, pressure, mass, angle, ratio"),
      .fallback = "length"),
    F(by, "by", CHOICE, NUMBER, 0, 0, EW_TEXT("places it is measured at"),
      .choices = ew_build_by_names, .fallback = "engine"),
    F(times, "times", CHOICE, NUMBER, 0, 0,
      EW_TEXT("low and high are factors of this figure of the engine"), .choices = times_names,
      .fallback = "none"),
    F(low, "low", QUANTITY, NUMBER, 0, 0, EW_TEXT("lower limit")),
    F(high, "high", QUANTITY, NUMBER, 0, 0, EW_TEXT("upper limit")),
    F(taper_m, "taper", QUANTITY, LENGTH, 0, 0.01, EW_TEXT("most taper of a bore")),
    F(ovality_m, "ovality", QUANTITY, LENGTH, 0, 0.01, EW_TEXT("most ovality of a bore")),
    F(spread, "spread", QUANTITY, RATIO, 0, 10, EW_TEXT("most spread over the places of one side")),
    F(lowest_share, "lowest_share", QUANTITY, RATIO, 0, 1,
      EW_TEXT("least over greatest, at least")),
    F(change, "change", QUANTITY, NUMBER, 0, 0,
      EW_TEXT("most change from the first stage to the last")),
    T(larger, "larger", EW_TEXT("a difference: the item it is taken from")),
    T(smaller, "smaller", EW_TEXT("and the item that is taken off")),
    F(needed, "needed", BOOLEAN, NUMBER, 0, 0, EW_TEXT("a missing place is a finding"),
      .fallback = "no"),
    T(origin, "origin", EW_TEXT("where the figures come from")),
    T(caution, "caution", EW_TEXT("what can hurt somebody or the engine here")),
    T(known_as, "known_as",
      EW_TEXT("what the program calls it, where the name differs: chamber volume, turning torque "
              "running")),
    MARK};
#undef RECORD
#define RECORD ew_build_step
static const struct ew_field step_fields[] = {
    T(list, "list", EW_TEXT("checklist: assembly, hook-up, run-in, after-run, dispatch")),
    T(step, "step", EW_TEXT("what is to be done")),
    F(before, "before", CHOICE, NUMBER, 0, 0, EW_TEXT("must be done before"),
      .choices = ew_build_gate_names, .fallback = "none"),
    T(caution, "caution", EW_TEXT("what can hurt somebody or the engine here")), MARK};
#undef RECORD
#define RECORD ew_build_measure
static const struct ew_field measure_fields[] = {
    T(item, "item", EW_TEXT("what was measured, as the template names it")),
    T(kind, "kind", EW_TEXT("quantity, when the template has no such item")),
    T(position, "position", EW_TEXT("where: main 3, 2 top thrust, 4 exhaust")),
    F(readings, "readings", NUMBERS, NUMBER, 0, 0, EW_TEXT("repeat readings")),
    F(low, "low", QUANTITY, NUMBER, 0, 0, EW_TEXT("the maker's least, before the template's")),
    F(high, "high", QUANTITY, NUMBER, 0, 0, EW_TEXT("the maker's most")),
    T(from, "from", EW_TEXT("whose figure that is")),
    T(instrument, "instrument", EW_TEXT("what it was measured with")),
    F(resolution, "resolution", QUANTITY, NUMBER, 0, 0,
      EW_TEXT("smallest step the instrument shows")),
    T(stage, "stage", EW_TEXT("before, after, with rings...; each stage keeps its own figure")),
    T(conditions, "conditions", EW_TEXT("tester, supply, temperature, torque plate")),
    T(sure, "sure", EW_TEXT("yes: a figure far outside what is usual is meant")),
    MARK};
#undef RECORD
#define RECORD ew_build_lash
static const struct ew_field lash_fields[] = {
    T(valve, "valve", EW_TEXT("which valve: 4 exhaust")),
    F(cold_m, "cold", QUANTITY, LENGTH, 0, 0.005, EW_TEXT("lash cold")),
    F(hot_m, "hot", QUANTITY, LENGTH, 0, 0.005, EW_TEXT("lash hot")),
    F(head_temperature_k, "head_temperature", QUANTITY, TEMPERATURE, 230, 520,
      EW_TEXT("temperature of the head at the hot reading")),
    F(since_stop_s, "since_stop", QUANTITY, TIME, 0, 86400,
      EW_TEXT("time since shut-down at that reading")),
    T(stage, "stage",
      EW_TEXT("run-in, after day 1...; a cold and a hot reading of one stage are a pair")),
    T(sure, "sure", EW_TEXT("yes: a figure far outside what is usual is meant")),
    MARK};
#undef RECORD
#define RECORD ew_build_part
static const struct ew_field part_fields[] = {
    T(part, "part", EW_TEXT("what it is")),
    F(fluid, "kind", CHOICE, NUMBER, 0, 0, EW_TEXT("part or fluid"), .choices = fluid_names,
      .fallback = "part"),
    T(maker, "maker", EW_TEXT("who made it")),
    T(number, "number", EW_TEXT("part number")),
    T(batch, "batch", EW_TEXT("batch, cast or heat number")),
    T(serial, "serial", EW_TEXT("serial number")),
    T(position, "position", EW_TEXT("where it is fitted")),
    T(quantity, "quantity", EW_TEXT("how many or how much")),
    F(life_s, "life", QUANTITY, TIME, 0, 4e7, EW_TEXT("running time until it is due")),
    F(life_above_s, "life_above", QUANTITY, TIME, 0, 4e7,
      EW_TEXT("running time above life_speed until due")),
    F(life_speed_rpm, "life_speed", QUANTITY, ROTATIONAL_SPEED, 0, 25000,
      EW_TEXT("speed of life_above")),
    F(fitted_at_s, "fitted_at", QUANTITY, TIME, 0, 4e8,
      EW_TEXT("running time of the engine when fitted"), .fallback = "0 s"),
    MARK};
#undef RECORD
#define RECORD ew_build_torque
static const struct ew_field torque_fields[] = {
    T(fastener, "fastener", EW_TEXT("which bolts or studs")),
    T(position, "position", EW_TEXT("where")),
    T(stage, "stage", EW_TEXT("first, final, again after heat")),
    T(lubricant, "lubricant", EW_TEXT("what was on the threads: the figure means nothing without")),
    F(torque_n_m, "torque", QUANTITY, TORQUE, 0, 5000, EW_TEXT("torque applied")),
    F(angle_deg, "angle", QUANTITY, ANGLE, 0, 720, EW_TEXT("angle turned")),
    F(stretch_m, "stretch", QUANTITY, LENGTH, 0, 0.005, EW_TEXT("stretch of the bolt")),
    F(low_n_m, "low", QUANTITY, TORQUE, 0, 5000, EW_TEXT("the maker's least torque")),
    F(high_n_m, "high", QUANTITY, TORQUE, 0, 5000, EW_TEXT("the maker's most")),
    F(stretch_low_m, "stretch_low", QUANTITY, LENGTH, 0, 0.005,
      EW_TEXT("the maker's least stretch")),
    F(stretch_high_m, "stretch_high", QUANTITY, LENGTH, 0, 0.005, EW_TEXT("the maker's most")),
    T(sure, "sure", EW_TEXT("yes: a figure far outside what is usual is meant")),
    MARK};
#undef RECORD
#define RECORD ew_build_tick
static const struct ew_field tick_fields[] = {
    T(list, "list", EW_TEXT("checklist")),
    T(step, "step", EW_TEXT("the step, as the checklist has it")),
    F(state, "state", CHOICE, NUMBER, 0, 0, EW_TEXT("how it came out"),
      .choices = ew_build_state_names, .fallback = "done"),
    MARK};
#undef RECORD
#define RECORD ew_build_seen
static const struct ew_field seen_fields[] = {
    T(what, "what", EW_TEXT("what was looked at: plug, filter, bearing, leak")),
    T(position, "position", EW_TEXT("where")),
    T(stage, "stage", EW_TEXT("before, after...")),
    T(says, "says", EW_TEXT("what it looked like")),
    F(grade, "grade", CHOICE, NUMBER, 0, 0,
      EW_TEXT("fine, watch, or stop (specks on a plug are a stop)"), .choices = grade_names,
      .fallback = "fine"),
    MARK};
#undef RECORD
#define RECORD ew_build_after
static const struct ew_field after_fields[] = {
    T(what, "what", EW_TEXT("what was said or done")),
    F(running_s, "running", QUANTITY, TIME, 0, 4e7, EW_TEXT("running time to add"),
      .fallback = "0 s"),
    F(runs, "runs", INTEGER, COUNT, 0, 100000, EW_TEXT("runs or starts to add"), .fallback = "0"),
    MARK};
#undef RECORD

static const struct ew_fields tables[EW_BUILD_KINDS_COUNT] = {
    [EW_BUILD_FACTS] = {EW_TEXT("facts"), sizeof(struct ew_build_facts), facts_fields,
                        G_N_ELEMENTS(facts_fields)},
    [EW_BUILD_AGREED] = {EW_TEXT("agreed"), sizeof(struct ew_build_agreed), agreed_fields,
                         G_N_ELEMENTS(agreed_fields)},
    [EW_BUILD_ITEM] = {EW_TEXT("item"), sizeof(struct ew_build_item), item_fields,
                       G_N_ELEMENTS(item_fields)},
    [EW_BUILD_STEP] = {EW_TEXT("step"), sizeof(struct ew_build_step), step_fields,
                       G_N_ELEMENTS(step_fields)},
    [EW_BUILD_MEASURE] = {EW_TEXT("measurement"), sizeof(struct ew_build_measure), measure_fields,
                          G_N_ELEMENTS(measure_fields)},
    [EW_BUILD_LASH] = {EW_TEXT("lash"), sizeof(struct ew_build_lash), lash_fields,
                       G_N_ELEMENTS(lash_fields)},
    [EW_BUILD_PART] = {EW_TEXT("part"), sizeof(struct ew_build_part), part_fields,
                       G_N_ELEMENTS(part_fields)},
    [EW_BUILD_TORQUE] = {EW_TEXT("torque"), sizeof(struct ew_build_torque), torque_fields,
                         G_N_ELEMENTS(torque_fields)},
    [EW_BUILD_TICK] = {EW_TEXT("tick"), sizeof(struct ew_build_tick), tick_fields,
                       G_N_ELEMENTS(tick_fields)},
    [EW_BUILD_SEEN] = {EW_TEXT("seen"), sizeof(struct ew_build_seen), seen_fields,
                       G_N_ELEMENTS(seen_fields)},
    [EW_BUILD_AFTER] = {EW_TEXT("after"), sizeof(struct ew_build_after), after_fields,
                        G_N_ELEMENTS(after_fields)},
};

const char *ew_build_kind_key(enum ew_build_kind kind) {
  static const char *const keys[] = {
#define X(kind_, key, type) key,
      EW_BUILD_KINDS(X)
#undef X
  };
  g_assert(kind < EW_BUILD_KINDS_COUNT);
  return keys[kind];
}

static const struct {
  const char *name;
  enum ew_kind kind;
} quantities[] = {{"length", EW_KIND_LENGTH},
                  {"force", EW_KIND_FORCE},
                  {"torque", EW_KIND_TORQUE},
                  {"volume", EW_KIND_VOLUME},
                  {"mass", EW_KIND_MASS},
                  {"volume flow", EW_KIND_VOLUME_FLOW},
                  {"pressure", EW_KIND_PRESSURE_GAUGE},
                  {"angle", EW_KIND_ANGLE},
                  {"ratio", EW_KIND_RATIO},
                  {"area", EW_KIND_AREA}};

enum ew_kind ew_build_quantity(const char *name) {
  for (gsize i = 0; name && i < G_N_ELEMENTS(quantities); i++)
    if (g_ascii_strcasecmp(quantities[i].name, name) == 0)
      return quantities[i].kind;
  return EW_KINDS_COUNT;
}

const char *ew_build_quantity_name(enum ew_kind kind) {
  for (gsize i = 0; i < G_N_ELEMENTS(quantities); i++)
    if (quantities[i].kind == kind)
      return quantities[i].name;
  g_assert_not_reached();
}

static gboolean follows_kind(const struct ew_field *field, gboolean factors) {
  gboolean limit = strcmp(field->name, "low") == 0 || strcmp(field->name, "high") == 0;
  return (field->type == EW_FIELD_QUANTITY || field->type == EW_FIELD_NUMBERS) &&
         field->kind == EW_KIND_NUMBER && !(limit && factors);
}

const struct ew_fields *ew_build_fields(enum ew_build_kind kind, enum ew_kind quantity,
                                        gboolean factors) {
  static struct ew_fields made[2][EW_KINDS_COUNT][2];
  static GMutex mutex;
  g_assert(kind < EW_BUILD_KINDS_COUNT);
  if ((kind != EW_BUILD_ITEM && kind != EW_BUILD_MEASURE) || quantity >= EW_KINDS_COUNT)
    return &tables[kind];
  struct ew_fields *table = &made[kind == EW_BUILD_ITEM][quantity][factors != 0];
  g_mutex_lock(&mutex);
  if (!table->fields) {
    struct ew_field *fields = g_memdup2(tables[kind].fields, tables[kind].count * sizeof *fields);
    for (gsize i = 0; i < tables[kind].count; i++)
      if (follows_kind(&fields[i], factors))
        fields[i].kind = quantity;
    *table = tables[kind];
    table->fields = fields;
  }
  g_mutex_unlock(&mutex);
  return table;
}
