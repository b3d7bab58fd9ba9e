/* The gate itself: which difference is what in which use, the walk over the sides, and what follows from the same facts (what lay
 * between, the key of a question). What each fact compares is comparable_facts.c. */
#include "base/error.h"
#include "base/suggest.h"
#include "judge/comparable_parts.h"
#include "pull/weather.h"
#include <math.h>
#include <string.h>

const char *const ew_alike_keys[EW_ALIKE_FACTS_COUNT] = {
#define X(id, key) key,
    EW_ALIKE_FACTS(X)
#undef X
};

/* The table of comparable.h. */
enum rule {
  SAME,
  REASON,
  CHANGE,
  ON_PURPOSE, /* a reason, unless it is asked about on purpose */
};
static const enum rule rules[EW_ALIKE_FACTS_COUNT][EW_ALIKE_USES_COUNT] = {
    /*                       repeat      side        question    spark       mixture     step */
    [EW_FACT_HELD] = {REASON, REASON, REASON, REASON, REASON, REASON},
    [EW_FACT_PRACTICE] = {REASON, REASON, REASON, REASON, REASON, REASON},
    [EW_FACT_ENGINE] = {REASON, REASON, ON_PURPOSE, ON_PURPOSE, ON_PURPOSE, REASON},
    [EW_FACT_BUILD] = {REASON, REASON, CHANGE, REASON, REASON, REASON},
    [EW_FACT_CELL] = {ON_PURPOSE, ON_PURPOSE, ON_PURPOSE, ON_PURPOSE, ON_PURPOSE, SAME},
    [EW_FACT_METHOD] = {REASON, REASON, REASON, REASON, REASON, SAME},
    [EW_FACT_AIR] = {REASON, REASON, REASON, REASON, REASON, SAME},
    [EW_FACT_SETUP] = {ON_PURPOSE, ON_PURPOSE, CHANGE, ON_PURPOSE, ON_PURPOSE, REASON},
    [EW_FACT_KIND] = {REASON, REASON, REASON, REASON, REASON, SAME},
    [EW_FACT_THROTTLE] = {REASON, REASON, REASON, REASON, REASON, SAME},
    [EW_FACT_ACCELERATION] = {REASON, REASON, REASON, REASON, REASON, SAME},
    [EW_FACT_RECORDER] = {REASON, REASON, REASON, REASON, REASON, SAME},
    [EW_FACT_CALIBRATION] = {REASON, REASON, REASON, REASON, REASON, SAME},
    [EW_FACT_LIMIT] = {REASON, SAME, SAME, SAME, SAME, SAME},
    [EW_FACT_START] = {ON_PURPOSE, SAME, ON_PURPOSE, ON_PURPOSE, ON_PURPOSE, SAME},
};

EW_MESSAGE(within_side, "judge.within-side", EW_CAUTION,
           "the pulls of one side are not alike: {reason}");

static void add_once(GPtrArray *list, ew_message *message) {
  for (guint i = 0; i < list->len; i++)
    if (ew_message_equal(list->pdata[i], message)) {
      ew_message_free(message);
      return;
    }
  ew_messages_add(list, message);
}

gboolean ew_gate_asks(const struct ew_gate *gate, enum ew_alike_fact fact) {
  g_assert(fact < EW_ALIKE_FACTS_COUNT && gate->use < EW_ALIKE_USES_COUNT);
  return rules[fact][gate->use] != SAME;
}

void ew_gate_found(struct ew_gate *gate, enum ew_alike_fact fact, ew_message *message) {
  g_assert(fact < EW_ALIKE_FACTS_COUNT);
  enum rule rule = rules[fact][gate->use];
  struct ew_alike *alike = gate->alike;
  if (rule == CHANGE) {
    add_once(alike->changes, message);
    return;
  }
  if (rule == SAME) {
    ew_message_free(message);
    return;
  }
  ew_message *says =
      gate->within ? ew_message(&within_side, ew_say_message("reason", message)) : NULL;
  gboolean on_purpose = rule == ON_PURPOSE && (gate->despite >> fact & 1);
  alike->may_ask |= rule == ON_PURPOSE && !on_purpose ? 1u << fact : 0;
  gate->final |= rule != ON_PURPOSE;
  add_once(on_purpose ? alike->despite : alike->reasons, says ? says : ew_message_copy(message));
  ew_message_free(message);
}

void ew_gate_widen(struct ew_gate *gate, enum ew_alike_fact fact, double variance,
                   ew_message *message) {
  if (!ew_gate_asks(gate, fact) || !(variance > 0)) {
    ew_message_free(message);
    return;
  }
  gate->variance[fact] = fmax(gate->variance[fact], variance);
  add_once(gate->alike->widenings, message);
}

struct ew_pull_facts ew_pull_facts_of(const struct ew_curve *curve, const struct ew_setup *setup) {
  g_assert(curve);
  return (struct ew_pull_facts){.curve = curve,
                                .setup = setup,
                                .torque_lag_s = NAN,
                                .speed_lag_s = NAN,
                                .at_s = NAN,
                                .air_u = ew_weather_drift(curve)};
}

static double mean_time_s(const struct ew_pull_facts *const *pulls, gsize n) {
  double sum = 0;
  for (gsize i = 0; i < n; i++)
    sum += pulls[i]->at_s; /* one that is not known makes it not known */
  return sum / (double)n;
}

/* All of a side alone, and each against its first. */
static void look_within(struct ew_gate *gate, const struct ew_pull_facts *const *pulls, gsize n) {
  enum ew_alike_use use = gate->use;
  for (gsize i = 0; i < n; i++)
    ew_gate_alone(gate, pulls[i]);
  gate->use = use == EW_ALIKE_REPEAT ? use : EW_ALIKE_SIDE;
  gate->within = TRUE;
  for (gsize i = 1; i < n; i++)
    ew_gate_pair(gate, pulls[0], pulls[i]);
  gate->within = FALSE;
  gate->use = use;
}

struct ew_alike *ew_comparable(const struct ew_pull_facts *const *a, gsize n_a,
                               const struct ew_pull_facts *const *b, gsize n_b,
                               enum ew_alike_use use, guint despite) {
  g_assert(n_a > 0 && n_b > 0 && use < EW_ALIKE_USES_COUNT);
  struct ew_alike *alike = g_new0(struct ew_alike, 1);
  GPtrArray **lists[] = {&alike->reasons, &alike->changes, &alike->widenings, &alike->despite};
  for (gsize i = 0; i < G_N_ELEMENTS(lists); i++)
    *lists[i] = ew_messages_new();
  struct ew_gate gate = {.use = use,
                         .despite = despite,
                         .hours = fabs(mean_time_s(a, n_a) - mean_time_s(b, n_b)) / 3600,
                         .alike = alike};
  look_within(&gate, a, n_a);
  look_within(&gate, b, n_b);
  ew_gate_pair(&gate, a[0], b[0]);
  ew_gate_start(&gate, a, n_a, b, n_b);
  for (int i = 0; i < EW_ALIKE_FACTS_COUNT; i++)
    alike->added_variance += gate.variance[i];
  alike->may_ask = gate.final ? 0 : alike->may_ask | (alike->may_ask ? despite : 0);
  g_assert(isfinite(alike->added_variance));
  g_assert(alike->may_ask == 0 || alike->reasons->len > 0);
  return alike;
}

void ew_alike_free(struct ew_alike *alike) {
  if (!alike)
    return;
  g_ptr_array_unref(alike->reasons);
  g_ptr_array_unref(alike->changes);
  g_ptr_array_unref(alike->widenings);
  g_ptr_array_unref(alike->despite);
  g_free(alike);
}

gboolean ew_is_alike(const struct ew_pull_facts *a, const struct ew_pull_facts *b,
                     enum ew_alike_use use, guint despite, ew_message **reason) {
  g_autoptr(ew_alike) alike = ew_comparable(&a, 1, &b, 1, use, despite);
  gboolean good = alike->reasons->len == 0 && alike->changes->len == 0;
  if (reason) {
    const GPtrArray *why = alike->reasons->len ? alike->reasons : alike->changes;
    *reason = good ? NULL : ew_message_copy(why->pdata[0]);
  }
  return good;
}

gboolean ew_is_same_limit(double a_rpm, double b_rpm) {
  return fabs(a_rpm - b_rpm) < EW_SAME_LIMIT_RPM;
}

gboolean ew_is_lower_limit(double rpm, double than_rpm) {
  return rpm <= than_rpm - EW_SAME_LIMIT_RPM;
}

static enum ew_level level_of(const struct ew_pull_facts *a, const struct ew_pull_facts *b) {
  if (a->engine_id && b->engine_id && a->engine_id != b->engine_id)
    return EW_LEVEL_REMOUNT; /* mountings are counted for each engine by itself */
  if (!a->placed || !b->placed)
    return EW_LEVEL_CONSECUTIVE;
  return a->mounting != b->mounting       ? EW_LEVEL_REMOUNT
         : g_strcmp0(a->day, b->day) != 0 ? EW_LEVEL_DAY
         : a->run != b->run               ? EW_LEVEL_RESTART
                                          : EW_LEVEL_CONSECUTIVE;
}

enum ew_level ew_level_between(const struct ew_pull_facts *const *a, gsize n_a,
                               const struct ew_pull_facts *const *b, gsize n_b) {
  enum ew_level least = EW_LEVEL_REMOUNT;
  g_assert(n_a > 0 && n_b > 0);
  for (gsize i = 0; i < n_a; i++)
    for (gsize j = 0; j < n_b; j++)
      least = MIN(least, level_of(a[i], b[j]));
  return least;
}

/* The set-up without conditions, as it could be typed: books keep digests of it. */
static char *setup_text(const struct ew_setup *setup) {
  GString *key = g_string_new(NULL);
  for (gsize i = 0; setup && i < ew_setup_fields.count; i++) {
    const struct ew_field *field = &ew_setup_fields.fields[i];
    g_autofree char *value = ew_setup_is_condition(field) ? NULL : ew_field_typed(field, setup);
    if (value)
      g_string_append_printf(key, "%s=%s;", field->name, value);
  }
  return g_string_free(key, FALSE);
}

char *ew_alike_question(const struct ew_pull_facts *a, const struct ew_pull_facts *b) {
  g_autofree char *one = setup_text(a->setup), *other = setup_text(b->setup);
  g_autofree char *text = g_strdup_printf("%" G_GINT64_FORMAT "|%s|%s", a->engine_id, one, other);
  return g_compute_checksum_for_string(G_CHECKSUM_SHA256, text, -1);
}

/* Can a difference of this fact be asked about on purpose anywhere? */
static gboolean can_be_asked(int fact) {
  for (int use = 0; use < EW_ALIKE_USES_COUNT; use++)
    if (rules[fact][use] == ON_PURPOSE)
      return TRUE;
  return FALSE;
}

gboolean ew_despite_read(const char *text, guint *despite, GError **error) {
  g_auto(GStrv) parts = g_strsplit(text, ",", -1);
  g_autoptr(GString) known = g_string_new(NULL);
  for (int i = 0; i < EW_ALIKE_FACTS_COUNT; i++)
    if (can_be_asked(i))
      g_string_append_printf(known, "%s%s", known->len ? ", " : "", ew_alike_keys[i]);
  *despite = 0;
  for (int k = 0; parts[k]; k++) {
    int fact = 0;
    const char *part = g_strstrip(parts[k]);
    while (fact < EW_ALIKE_FACTS_COUNT && strcmp(part, ew_alike_keys[fact]) != 0)
      fact++;
    if (fact == EW_ALIKE_FACTS_COUNT || !can_be_asked(fact))
      return ew_refuse(error,
                       "despite '%s': pulls can be compared on purpose although they differ in: %s",
                       part, known->str);
    *despite |= 1u << fact;
  }
  return *despite != 0 || ew_refuse(error, "despite: name what may differ: %s", known->str);
}
