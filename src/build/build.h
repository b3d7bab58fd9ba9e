/* The build record: what was agreed, measured, fitted, tightened and ticked off while an engine is
 * built, and what was reported of it later.
 *
 * A build holds records of eleven kinds, each a plain struct with one field table (fields.c). The
 * same tables read a shop's YAML files, the command line and the book. Items and steps are the
 * template: which measurements and which steps a build needs, with targets that are the shop's to
 * edit; the maker's figure, given with a measurement, goes before the template's. */
#pragma once
#include "engine/engine.h"

/* kind, key in a file, struct */
#define EW_BUILD_KINDS(X)                                                                          \
  X(FACTS, "facts", struct ew_build_facts)                                                         \
  X(AGREED, "agreed", struct ew_build_agreed)                                                      \
  X(ITEM, "items", struct ew_build_item)                                                           \
  X(STEP, "steps", struct ew_build_step)                                                           \
  X(MEASURE, "measured", struct ew_build_measure)                                                  \
  X(LASH, "lash", struct ew_build_lash)                                                            \
  X(PART, "parts", struct ew_build_part)                                                           \
  X(TORQUE, "torques", struct ew_build_torque)                                                     \
  X(TICK, "done", struct ew_build_tick)                                                            \
  X(SEEN, "seen", struct ew_build_seen)                                                            \
  X(AFTER, "after", struct ew_build_after)

enum ew_build_kind {
#define X(kind, key, type) EW_BUILD_##kind,
  EW_BUILD_KINDS(X)
#undef X
      EW_BUILD_KINDS_COUNT
};

/* First in every record: where it stands in the book (0: not stored yet), when, who, remarks. */
struct ew_build_mark {
  gint64 id;
  char *at, *who, *note; /* at: ISO 8601 date or date and time */
};

struct ew_build_facts {
  struct ew_build_mark mark;
  char *build, *family;        /* name of this build; tag that like engines share */
  char *block, *head, *rocker; /* "iron", "aluminium"; "steel shaft": learning asks for equals */
  int mains;                   /* main bearings; 0: by the layout */
};

struct ew_build_agreed {
  struct ew_build_mark mark;
  char *what, *fuel;
  int order; /* 0 target, 1 change order */
  double power_w, power_speed_rpm, torque_n_m, limit_rpm;
};

enum ew_build_by {
  EW_BY_ENGINE,
  EW_BY_MAIN,
  EW_BY_ROD,
  EW_BY_CYLINDER,
  EW_BY_BORE,
  EW_BY_VALVE,
  EW_BY_INLET,
  EW_BY_EXHAUST,
  EW_BY_BANK,
  EW_BY_FREE,
};
enum ew_build_times {
  EW_TIMES_NONE,
  EW_TIMES_BORE,
  EW_TIMES_STROKE,
  EW_TIMES_SPRING_FORCE,
  EW_TIMES_SPRING_HEIGHT,
};

/* One line of the template. Limits are of the item's kind, or factors where `times` says of what. */
struct ew_build_item {
  struct ew_build_mark mark;
  char *item, *kind, *origin, *caution;
  char *known_as; /* what the program calls it, where the shop's name for it differs; else NULL */
  int by, times;  /* enum ew_build_by, ew_build_times */
  double low, high;
  double taper_m, ovality_m; /* of bores; NaN: not judged */
  double spread;             /* greatest less least over the mean, of one side; relative */
  double lowest_share;       /* least over greatest */
  double change;             /* between the first stage and the last */
  char *larger, *smaller;    /* a difference of two other items, not measured itself */
  gboolean needed;           /* a missing position is a finding */
  enum ew_kind quantity;     /* of `kind`; set by the reader */
};

enum ew_build_gate { EW_GATE_NONE, EW_GATE_FIRST_FIRE, EW_GATE_LOAD, EW_GATE_DISPATCH };

struct ew_build_step {
  struct ew_build_mark mark;
  char *list, *step, *caution;
  int before; /* enum ew_build_gate: must be done before */
};

struct ew_build_measure {
  struct ew_build_mark mark;
  char *item, *kind, *position, *stage, *instrument, *conditions, *from; /* from: whose target */
  GArray *readings; /* of double, in the item's kind */
  double low, high; /* the maker's figure; NaN: the template's */
  double resolution;
  char *sure;            /* "yes": out of all reach, and meant (doubt.h) */
  enum ew_kind quantity; /* set by the reader */
};

struct ew_build_lash {
  struct ew_build_mark mark;
  char *valve, *stage;
  double cold_m, hot_m, head_temperature_k, since_stop_s;
  char *sure;
};

struct ew_build_part {
  struct ew_build_mark mark;
  char *part, *maker, *number, *batch, *serial, *position, *quantity;
  int fluid; /* 0 part, 1 fluid */
  double life_s, life_above_s, life_speed_rpm,
      fitted_at_s; /* of running; fitted_at: engine's hours */
};

struct ew_build_torque {
  struct ew_build_mark mark;
  char *fastener, *position, *stage, *lubricant;
  double torque_n_m, angle_deg, stretch_m, low_n_m, high_n_m, stretch_low_m, stretch_high_m;
  char *sure;
};

struct ew_build_tick {
  struct ew_build_mark mark;
  char *list, *step;
  int state; /* 0 done, 1 does not apply, 2 failed */
};

/* What eyes saw: a plug, a filter, a bearing, a leak. */
struct ew_build_seen {
  struct ew_build_mark mark;
  char *what, *position, *stage, *says;
  int grade; /* 0 fine, 1 watch, 2 stop */
};

struct ew_build_after {
  struct ew_build_mark mark;
  char *what;
  double running_s;
  int runs;
};

struct ew_build {
  gint64 id, engine_id;
  GPtrArray *records[EW_BUILD_KINDS_COUNT]; /* of pointers to the structs above, oldest first */
};

struct ew_build *ew_build_new(void);
void ew_build_free(struct ew_build *build);
typedef struct ew_build ew_build; /* for g_autoptr only */
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_build, ew_build_free)

const char *ew_build_kind_key(enum ew_build_kind kind);
/* What blocks and heads are made of, to choose from; any other is taken as it is typed. NULL-terminated. */
extern const char *const ew_build_materials[];
extern const char *const ew_build_by_names[], *const ew_build_gate_names[],
                                                  *const ew_build_state_names[];
/* The table of a kind. Of items and measures the table depends on the quantity that is measured
 * (EW_KINDS_COUNT: the plain table, for help); of items also on whether limits are factors. */
const struct ew_fields *ew_build_fields(enum ew_build_kind kind, enum ew_kind quantity,
                                        gboolean factors);
/* What can be measured: "length", "torque", "pressure" (gauge)...; EW_KINDS_COUNT when unknown. */
enum ew_kind ew_build_quantity(const char *name);
const char *ew_build_quantity_name(enum ew_kind kind);

/* Read one record. A measure takes its kind from the build's item of that name when it says none;
 * positions are put into one spelling and refused when the engine has no such place. NULL with
 * *error on refusal. Free with ew_build_record_free. */
void *ew_build_record_read(enum ew_build_kind kind, const struct ew_node *map, const char *where,
                           const struct ew_build *build, const struct ew_engine *engine,
                           GError **error);
/* The same without settling places and names against engine and template: for records that were
 * settled when they were kept. */
void *ew_build_record_parse(enum ew_build_kind kind, const struct ew_node *map, const char *where,
                            const struct ew_build *build, GError **error);
char *ew_build_record_yaml(enum ew_build_kind kind, const void *record);
void ew_build_record_free(enum ew_build_kind kind, void *record);
void ew_build_record_json(enum ew_build_kind kind, const void *record, struct ew_json *json);

/* Read a template's `items:` and `lists:` into the build, behind what is there. */
gboolean ew_build_read_template(const struct ew_node *root, const char *where,
                                const struct ew_engine *engine, struct ew_build *build,
                                GError **error);
/* Read the lists of a build file (facts at the top, `agreed:`, `measured:`...) into the build.
 * Keys in `others` are left to the caller. A measure may carry `each:`, a map of positions to one
 * reading or a list of them, instead of `position:` and `readings:`. */
gboolean ew_build_read_file(const struct ew_node *root, const char *where,
                            const struct ew_engine *engine, const char *const *others,
                            struct ew_build *build, GError **error);

/* The last facts; a static empty record when there are none. */
const struct ew_build_facts *ew_build_facts_of(const struct ew_build *build);
const struct ew_build_item *ew_build_item_of(const struct ew_build *build, const char *name);
/* Is the item of that name what the program knows as `key` ("chamber volume", "turning torque running")? By its
 * `known_as`, else by the name itself. */
gboolean ew_build_is(const struct ew_build *build, const char *name, const char *key);
/* The last item that is so; NULL when the template has none. */
const struct ew_build_item *ew_build_item_known(const struct ew_build *build, const char *key);
#define EW_BUILD_EACH(build, KIND, type, variable, index)                                          \
  for (guint index = 0;                                                                            \
       index < (build)->records[EW_BUILD_##KIND]->len &&                                           \
       ((variable) = g_ptr_array_index((build)->records[EW_BUILD_##KIND], index), TRUE);           \
       index++)
