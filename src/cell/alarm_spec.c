/* The table of alarms from YAML (format: alarm_spec.h): one field table a row, then what no single field can say: a
 * watch that makes sense, limits of one kind, outputs that exist, names that stand once. A table is taken whole or
 * refused. */
#include "cell/alarm_spec.h"
#include "base/language.h"
#include "base/error.h"
#include "cell/output_gpio.h"
#include <math.h>
#include <stddef.h>
#include <string.h>

#define X(id, word, meaning) word,
const char *const ew_alarm_action_names[] = {EW_ALARM_ACTIONS(X) NULL};
#undef X
#define X(id, word) word,
static const char *const watch_words[] = {EW_WATCHES(X)};
#undef X
static const char *const output_kinds[] = {"send", "coil", "gpio", "file", NULL};

#define AT(member)          .offset = offsetof(struct ew_alarm_spec, member)
#define TEXT(field, member) .name = field, .type = EW_FIELD_TEXT, AT(member)
#define YES(field, member)  .name = field, .type = EW_FIELD_BOOLEAN, AT(member), .fallback = "no"
#define Q(field, unit, member, low, high)                                                          \
  .name = field, .type = EW_FIELD_QUANTITY, .kind = EW_KIND_##unit, AT(member), .minimum = low,    \
  .maximum = high

static const struct ew_field fields[] = {
    {TEXT("name", name), .help = "what it is called"},
    {TEXT("watch", watch_text), .help = "a channel, or an expression of channels"},
    {.name = "action",
     .type = EW_FIELD_CHOICE,
     AT(action),
     .choices = ew_alarm_action_names,
     .fallback = "notice",
     .help = "what it asks for"},
    {TEXT("says", says), .help = "four words that say what to do"},
    {TEXT("above", above_text), .help = "trips above this figure"},
    {TEXT("below", below_text), .help = "trips below this figure"},
    {TEXT("below_per_1000_rpm", per_speed_text),
     .help = "trips below this pressure per 1,000 rpm, from the first pull on"},
    {.name = "speeds",
     .type = EW_FIELD_NUMBERS,
     .kind = EW_KIND_ROTATIONAL_SPEED,
     AT(speeds_rpm),
     .help = "the speeds at which `limits` apply"},
    {TEXT("limits", limits_text), .help = "trips below the line through these figures at `speeds`"},
    {Q("below_own", RATIO, below_own, 0.01, 1),
     .help = "trips below this share of the engine's own curve"},
    {Q("below_last", RATIO, below_last, 0.01, 1),
     .help = "trips below this share of the last pull, less twice its scatter"},
    {TEXT("above_own", above_own_text), .help = "trips this much above the engine's own curve"},
    {YES("over_own", over_own), .help = "count only what is above the engine's own background"},
    {Q("hold", TIME, hold_s, 0, 60), .fallback = "0 s",
     .help = "how long the limit must be passed before it trips"},
    {TEXT("hysteresis", hysteresis_text),
     .help = "how far the reading must come back before the hold begins again"},
    {Q("throttle_above", RATIO, throttle_above, 0, 1),
     .help = "watched only above this throttle opening"},
    {Q("throttle_below", RATIO, throttle_below, 0, 1),
     .help = "watched only below this throttle opening"},
    {Q("speed_above", ROTATIONAL_SPEED, speed_above_rpm, 0, 25000),
     .help = "watched only above this speed"},
    {Q("speed_below", ROTATIONAL_SPEED, speed_below_rpm, 0, 25000),
     .help = "watched only below this speed"},
    {Q("rate_below", ROTATIONAL_ACCELERATION, rate_below_rpm_s, 0, 5000),
     .help = "watched only while speed changes more slowly than this"},
    {Q("settle", TIME, settle_s, 0, 60), .fallback = "0 s",
     .help = "watched only once the conditions have been met for this long"},
    {YES("transport_delay", transport_delay),
     .help = "waits for the gas to reach the probe: 0.35 s at 2,500 rpm, 0.15 s at 7,000"},
    {YES("in_pull", in_pull), .help = "watched only within a pull"},
    {YES("until_learned", until_learned), .help = "not used once the engine's own curve is known"},
};
const struct ew_fields ew_alarm_fields = {EW_TEXT("an alarm"), sizeof(struct ew_alarm_spec), fields,
                                          G_N_ELEMENTS(fields)};
#undef AT
#define AT(member) .offset = offsetof(struct ew_output_spec, member)
static const struct ew_field output_fields[] = {
    {TEXT("name", name), .help = "what it does"},
    {.name = "kind",
     .type = EW_FIELD_CHOICE,
     AT(kind),
     .choices = output_kinds,
     .fallback = "send",
     .help = "a line back to the source, a Modbus coil, a GPIO line, a file"},
    {TEXT("to", to),
     .help =
         "coil: modbus://HOST:PORT/UNIT/coil/ADDRESS; gpio: /dev/gpiochipN:LINE; file: its path"},
    {TEXT("line", line), .help = "what is sent or written"},
    {YES("on", on), .help = "state of the coil or line"},
    {Q("speed_below", ROTATIONAL_SPEED, speed_below_rpm, 0, 25000),
     .help = "only once speed has come down to this"},
    {YES("releases_load", releases_load), .help = "it takes the load off"},
};
const struct ew_fields ew_output_fields = {EW_TEXT("an output"), sizeof(struct ew_output_spec),
                                           output_fields, G_N_ELEMENTS(output_fields)};

static enum ew_kind difference_kind(enum ew_kind kind) {
  return kind == EW_KIND_TEMPERATURE ? EW_KIND_TEMPERATURE_DIFFERENCE
         : kind == EW_KIND_PRESSURE_GAUGE || kind == EW_KIND_PRESSURE_ABSOLUTE
             ? EW_KIND_PRESSURE_DIFFERENCE
             : kind;
}

static enum ew_kind kind_of(const struct ew_watch *w) {
  enum ew_kind kind = ew_channel_facts[w->channel].kind;
  switch (w->how) {
  case EW_WATCH_MINUS:
  case EW_WATCH_SPREAD:
  case EW_WATCH_RISE: return difference_kind(kind);
  case EW_WATCH_FALL: return EW_KIND_RATIO;
  case EW_WATCH_RATE: return EW_KIND_ROTATIONAL_ACCELERATION;
  case EW_WATCH_COUNT: return EW_KIND_COUNT;
  case EW_WATCH_LOST:
  case EW_WATCH_FROZEN: return EW_KIND_TIME;
  case EW_WATCH_VALUE:
  case EW_WATCH_MAX: return kind;
  case EW_WATCHES_COUNT: break;
  }
  g_assert_not_reached();
}

static gboolean read_channel(const char *text, enum ew_channel *channel, int *index,
                             GError **error) {
  g_autofree char *word = g_strstrip(g_strdup(text));
  char *blank = strchr(word, ' ');
  guint64 number = 0;
  if (blank) {
    *blank = 0;
    if (!g_ascii_string_to_unsigned(g_strstrip(blank + 1), 10, 1, 16, &number, NULL))
      return ew_refuse(error, "watch: '%s': after the channel, a number from 1 to 16", text);
  }
  *index = (int)number;
  *channel = ew_channel_by_key(word);
  if (*channel == EW_CHANNELS_COUNT)
    return ew_refuse(error,
                     "watch: '%s' is not a channel; write one as the channel map does, for "
                     "example oil_pressure",
                     text);
  return TRUE;
}

static gboolean read_watch(const char *text, struct ew_watch *w, GError **error) {
  *w = (struct ew_watch){.minus = EW_CHANNELS_COUNT};
  if (!text)
    return ew_refuse(error, "watch is missing");
  const char *open = strchr(text, '('), *minus = strstr(text, " - ");
  gboolean good = TRUE;
  if (open && g_str_has_suffix(text, ")")) {
    g_autofree char *word = g_strstrip(g_strndup(text, (gsize)(open - text)));
    g_autofree char *inner = g_strndup(open + 1, strlen(open) - 2);
    for (int i = EW_WATCH_MAX; i < EW_WATCHES_COUNT; i++)
      if (strcmp(word, watch_words[i]) == 0)
        w->how = (enum ew_watch_how)i;
    good = w->how != EW_WATCH_VALUE ? read_channel(inner, &w->channel, &w->index, error)
                                    : ew_refuse(error,
                                                "watch: '%s' is not known; there are max, "
                                                "spread, rise, fall, rate, count, lost and "
                                                "frozen",
                                                word);
    if (good && w->how == EW_WATCH_RATE && w->channel != EW_CHANNEL_SPEED)
      return ew_refuse(error, "watch: rate() is of speed only");
  } else if (minus) {
    g_autofree char *first = g_strndup(text, (gsize)(minus - text));
    w->how = EW_WATCH_MINUS;
    good = read_channel(first, &w->channel, &w->index, error) &&
           read_channel(minus + 3, &w->minus, &w->minus_index, error);
    if (good && ew_channel_facts[w->channel].kind != ew_channel_facts[w->minus].kind)
      return ew_refuse(error, "watch: '%s' subtracts quantities of different kinds", text);
  } else
    good = read_channel(text, &w->channel, &w->index, error);
  if (good)
    w->kind = kind_of(w);
  g_assert(!good || (w->channel < EW_CHANNELS_COUNT && w->index >= 0 && w->index <= 16));
  return good;
}

/* "120 degC", or "102 % of limit". */
static gboolean read_limit(const char *field, const char *text, enum ew_kind kind,
                           const struct ew_alarm_context *c, double *value,
                           enum ew_alarm_share *lacks, GError **error) {
#define X(id, word) word,
  static const char *const words[EW_ALARM_SHARES_END] = {"", EW_ALARM_SHARES(X)};
#undef X
  const struct {
    double value;
    enum ew_kind kind;
  } known[EW_ALARM_SHARES_END] = {
      [EW_ALARM_OF_LIMIT] = {c->limit_rpm, EW_KIND_ROTATIONAL_SPEED},
      [EW_ALARM_OF_RATE] = {c->rate_rpm_s, EW_KIND_ROTATIONAL_ACCELERATION},
      [EW_ALARM_OF_LARGEST_TORQUE] = {c->largest_torque_n_m, EW_KIND_TORQUE},
      [EW_ALARM_OF_LARGEST_SPEED] = {c->largest_speed_rpm, EW_KIND_ROTATIONAL_SPEED},
      [EW_ALARM_OF_LARGEST_POWER] = {c->largest_power_w, EW_KIND_POWER}};
  *value = NAN;
  if (!text)
    return TRUE;
  const char *of = strstr(text, " of ");
  if (!of)
    return ew_quantity_parse(field, text, kind, value, error);
  g_autofree char *share_text = g_strndup(text, (gsize)(of - text));
  double share;
  if (!ew_quantity_parse(field, share_text, EW_KIND_RATIO, &share, error))
    return FALSE;
  for (int i = EW_ALARM_OF_LIMIT; i < EW_ALARM_SHARES_END; i++)
    if (strcmp(words[i], of + 4) == 0 && known[i].kind == kind) {
      *value = share * known[i].value;
      if (isnan(*value) && lacks && *lacks == EW_ALARM_OF_NOTHING)
        *lacks = (enum ew_alarm_share)i;
      return TRUE;
    }
  return ew_refuse(error,
                   "%s: '%s' can't be used with this watch; choose limit, rate, largest_torque, "
                   "largest_speed or largest_power",
                   field, of + 4);
}

static gboolean read_limits(struct ew_alarm_spec *a, GError **error) {
  a->limits = g_array_new(FALSE, FALSE, sizeof(double));
  if (!a->limits_text)
    return TRUE;
  g_auto(GStrv) parts = g_strsplit(a->limits_text, ",", 200);
  for (int i = 0; parts[i]; i++) {
    double value;
    if (!ew_quantity_parse("limits", g_strstrip(parts[i]), a->watch.kind, &value, error))
      return FALSE;
    g_array_append_val(a->limits, value);
  }
  guint speeds = a->speeds_rpm ? a->speeds_rpm->len : 0;
  if (speeds != a->limits->len)
    return ew_refuse(error, "limits: %u of them, and %u speeds: one each", a->limits->len, speeds);
  for (guint i = 1; i < speeds; i++)
    if (g_array_index(a->speeds_rpm, double, i) <= g_array_index(a->speeds_rpm, double, i - 1))
      return ew_refuse(error, "speeds: they must rise");
  return TRUE;
}

static gboolean understand(struct ew_alarm_spec *a, const struct ew_alarm_context *c,
                           GError **error) {
  if (!a->name || !*a->name)
    return ew_refuse(error, "name is missing");
  if (!read_watch(a->watch_text, &a->watch, error) ||
      !read_limit("above", a->above_text, a->watch.kind, c, &a->above, &a->lacks, error) ||
      !read_limit("below", a->below_text, a->watch.kind, c, &a->below, &a->lacks, error) ||
      !read_limit("above_own", a->above_own_text, difference_kind(a->watch.kind), c, &a->above_own,
                  NULL, error) ||
      !read_limit("below_per_1000_rpm", a->per_speed_text, a->watch.kind, c, &a->below_per_1000_rpm,
                  NULL, error) ||
      !read_limit("hysteresis", a->hysteresis_text, difference_kind(a->watch.kind), c,
                  &a->hysteresis, NULL, error) ||
      !read_limits(a, error))
    return FALSE;
  if (isnan(a->hysteresis))
    a->hysteresis = 0;
  if (a->per_speed_text &&
      (a->watch.kind != EW_KIND_PRESSURE_GAUGE || !(a->below_per_1000_rpm > 0)))
    return ew_refuse(error,
                     "below_per_1000_rpm: '%s': write a gauge pressure above 0, such as "
                     "0.3 bar, for a channel that is one",
                     a->per_speed_text);
  if (!a->above_text && !a->below_text && !a->above_own_text && !a->per_speed_text &&
      isnan(a->below_own) && isnan(a->below_last) && a->limits->len == 0)
    return ew_refuse(error, "a limit is missing: above, below, limits, below_own, below_last or "
                            "above_own");
  g_auto(GStrv) words = g_strsplit_set(a->says ? a->says : "", " ", -1);
  if (g_strv_length(words) != 4)
    return ew_refuse(error, "says: '%s': write exactly four words that say what to do",
                     a->says ? a->says : "");
  return TRUE;
}

static gboolean understand_output(const struct ew_output_spec *o, GError **error) {
  gboolean wants_line = o->kind == EW_OUTPUT_SEND || o->kind == EW_OUTPUT_FILE;
  g_autofree char *chip = NULL;
  int line;
  if (!o->name || (o->kind != EW_OUTPUT_SEND && !o->to) || (wants_line && !o->line))
    return ew_refuse(error, "name, and 'line' (send, file) or 'to' (coil, gpio, file) are needed");
  if (o->kind == EW_OUTPUT_GPIO && !ew_gpio_name(o->to, &chip, &line, error))
    return FALSE;
  if (o->releases_load && isnan(o->speed_below_rpm))
    return ew_refuse(error,
                     "'%s' takes the load off: it must wait for speed_below, since an "
                     "engine at full throttle without load runs away",
                     o->name);
  return TRUE;
}

static void alarm_clear(struct ew_alarm_spec *a) {
  ew_fields_clear(&ew_alarm_fields, a);
  if (a->limits)
    g_array_unref(a->limits);
}

static void output_clear(struct ew_output_spec *o) {
  ew_fields_clear(&ew_output_fields, o);
}

/* Alarms are cleared, and kept tripped through an exchange, by their names. TRUE refuses. */
static gboolean named_before(const GArray *alarms, GError **error) {
  const char *last = g_array_index(alarms, struct ew_alarm_spec, alarms->len - 1).name;
  for (guint i = 0; last && i + 1 < alarms->len; i++)
    if (strcmp(g_array_index(alarms, struct ew_alarm_spec, i).name, last) == 0)
      return !ew_refuse(error, "name: '%s' already exists: each alarm needs its own name", last);
  return FALSE;
}

static gboolean read_list(const struct ew_node *list, const struct ew_fields *table,
                          const char *where, GArray *into, const struct ew_alarm_context *context,
                          GError **error) {
  if (list && list->kind != EW_NODE_LIST)
    return ew_refuse(error, "%s:%u: '%s' is a list", where, list->line, list->key);
  for (guint i = 0; list && i < list->children->len; i++) {
    const struct ew_node *one = g_ptr_array_index(list->children, i);
    gboolean alarms = table == &ew_alarm_fields;
    g_array_set_size(into, into->len + 1); /* zeroed */
    void *record = into->data + (into->len - 1) * table->size;
    if (!ew_fields_read(table, one, where, NULL, record, error)) {
      memset(record, 0, table->size);
      return FALSE;
    }
    if (alarms && named_before(into, error)) {
      g_prefix_error(error, "%s:%u: ", where, one->line);
      return FALSE;
    }
    if (!(alarms ? understand(record, context, error) : understand_output(record, error))) {
      g_prefix_error(error, "%s:%u: ", where, one->line);
      return FALSE;
    }
  }
  return TRUE;
}

static gboolean read_heartbeat(const struct ew_node *node, struct ew_alarm_table *t,
                               GError **error) {
  t->heartbeat_s = NAN;
  if (!node)
    return TRUE;
  const struct ew_node *every = ew_node_member(node, "every"), *line = ew_node_member(node, "line");
  if (!every || !line || !line->text ||
      !ew_quantity_parse("heartbeat, every", every->text, EW_KIND_TIME, &t->heartbeat_s, error))
    return (error && *error) || ew_refuse(error, "heartbeat: write every and line");
  if (!(t->heartbeat_s >= 0.05 && t->heartbeat_s <= 10))
    return ew_refuse(error, "heartbeat, every: from 50 ms to 10 s");
  t->heartbeat_line = g_strdup(line->text);
  return TRUE;
}

static gboolean only_known(const struct ew_node *root, const char *where, GError **error) {
  if (root->kind != EW_NODE_MAP)
    return ew_refuse(error, "%s: write alarms:, outputs: and heartbeat:", where);
  for (guint i = 0; i < root->children->len; i++) {
    const struct ew_node *one = g_ptr_array_index(root->children, i);
    if (strcmp(one->key, "alarms") && strcmp(one->key, "outputs") && strcmp(one->key, "heartbeat"))
      return ew_refuse(error, "%s:%u: '%s' is not known; there are alarms, outputs and heartbeat",
                       where, one->line, one->key);
  }
  return TRUE;
}

struct ew_alarm_table *ew_alarm_table_read(const struct ew_node *root, const char *where,
                                           const struct ew_alarm_context *context, GError **error) {
  struct ew_alarm_table *t = g_new0(struct ew_alarm_table, 1);
  t->alarms = g_array_new(FALSE, TRUE, sizeof(struct ew_alarm_spec));
  t->outputs = g_array_new(FALSE, TRUE, sizeof(struct ew_output_spec));
  g_array_set_clear_func(t->alarms, (GDestroyNotify)alarm_clear);
  g_array_set_clear_func(t->outputs, (GDestroyNotify)output_clear);
  if (only_known(root, where, error) &&
      read_list(ew_node_member(root, "alarms"), &ew_alarm_fields, where, t->alarms, context,
                error) &&
      read_list(ew_node_member(root, "outputs"), &ew_output_fields, where, t->outputs, context,
                error) &&
      read_heartbeat(ew_node_member(root, "heartbeat"), t, error))
    return t;
  ew_alarm_table_free(t);
  return NULL;
}

void ew_alarm_table_free(struct ew_alarm_table *t) {
  if (!t)
    return;
  g_array_unref(t->alarms);
  g_array_unref(t->outputs);
  g_free(t->heartbeat_line);
  g_free(t);
}
