/* Calibrations from YAML, and raw figures through them. A plan is made once a header, so that applying it is
 * O(columns) a row without a look-up by name. Outside a table's points, or without its junction, a figure is NaN. */
#include "pull/sensor.h"
#include "base/error.h"
#include "pull/thermocouple.h"
#include <math.h>
#include <stddef.h>
#include <string.h>

#define AT(member) .offset = offsetof(struct ew_sensor, member)
static const char *const kinds[] = {"linear", "table", "polynomial", "thermocouple", NULL};
static const struct ew_field fields[] = {
    {.name = "channel", .type = EW_FIELD_TEXT, AT(channel), .help = "its name in the source"},
    {.name = "name", .type = EW_FIELD_TEXT, AT(name), .help = "what it measures"},
    {.name = "unit", .type = EW_FIELD_TEXT, AT(unit), .help = "unit of the calibrated figure"},
    {.name = "kind",
     .type = EW_FIELD_CHOICE,
     AT(kind),
     .choices = kinds,
     .fallback = "linear",
     .help = "how a raw reading becomes a figure"},
    {.name = "gain",
     .type = EW_FIELD_QUANTITY,
     .kind = EW_KIND_NUMBER,
     AT(gain),
     .fallback = "1",
     .help = "linear: factor on the raw reading"},
    {.name = "offset",
     .type = EW_FIELD_QUANTITY,
     .kind = EW_KIND_NUMBER,
     AT(offset),
     .fallback = "0",
     .help = "linear: added to that"},
    {.name = "raw",
     .type = EW_FIELD_NUMBERS,
     .kind = EW_KIND_NUMBER,
     AT(raw),
     .help = "table: raw readings, rising"},
    {.name = "values",
     .type = EW_FIELD_NUMBERS,
     .kind = EW_KIND_NUMBER,
     AT(values),
     .help = "table: the figures they stand for"},
    {.name = "doubt",
     .type = EW_FIELD_QUANTITY,
     .kind = EW_KIND_NUMBER,
     AT(doubt),
     .minimum = 0,
     .maximum = 1e9,
     .help = "how far it may be off, 95 %"},
    {.name = "coefficients",
     .type = EW_FIELD_NUMBERS,
     .kind = EW_KIND_NUMBER,
     AT(coefficients),
     .help = "polynomial: factors on raw to the power 0, 1, 2 ..."},
    {.name = "type",
     .type = EW_FIELD_CHOICE,
     AT(type),
     .choices = ew_thermocouple_names,
     .fallback = "K",
     .help = "thermocouple: its type"},
    {.name = "junction",
     .type = EW_FIELD_TEXT,
     AT(junction),
     .help = "thermocouple: channel of the cold junction, in °C"},
    {.name = "junction_celsius",
     .type = EW_FIELD_QUANTITY,
     .kind = EW_KIND_NUMBER,
     AT(junction_celsius),
     .help = "thermocouple: a fixed cold junction, in °C"},
};
static const struct ew_fields sensor_fields = {"a sensor", sizeof(struct ew_sensor), fields,
                                               G_N_ELEMENTS(fields)};

static guint length(const GArray *list) {
  return list ? list->len : 0;
}

static gboolean check(const struct ew_sensor *s, GError **error) {
  if (!s->channel || !*s->channel)
    return ew_refuse(error, "channel is missing: the name that the source gives");
  if (s->kind == EW_SENSOR_TABLE && (length(s->raw) < 2 || length(s->raw) != length(s->values)))
    return ew_refuse(error, "'%s': a table needs two or more of raw, and as many values",
                     s->channel);
  for (guint i = 1; s->kind == EW_SENSOR_TABLE && i < s->raw->len; i++)
    if (!(g_array_index(s->raw, double, i) > g_array_index(s->raw, double, i - 1)))
      return ew_refuse(error, "'%s': raw must rise", s->channel);
  if (s->kind == EW_SENSOR_POLYNOMIAL && length(s->coefficients) < 1)
    return ew_refuse(error, "'%s': coefficients are missing", s->channel);
  if (s->kind == EW_SENSOR_THERMOCOUPLE && s->unit && strcmp(s->unit, "degC") != 0)
    return ew_refuse(error, "'%s': a thermocouple gives degC", s->channel);
  return TRUE;
}

static void sensor_clear(struct ew_sensor *s) {
  ew_fields_clear(&sensor_fields, s);
}

struct ew_sensors *ew_sensors_read(const struct ew_node *root, const char *where, GError **error) {
  const struct ew_node *list = root->kind == EW_NODE_MAP ? ew_node_member(root, "sensors") : NULL;
  if (!list || list->kind != EW_NODE_LIST || root->children->len != 1) {
    ew_refuse(error, "%s: write sensors: and a list", where);
    return NULL;
  }
  struct ew_sensors *all = g_new0(struct ew_sensors, 1);
  all->sensors = g_array_new(FALSE, TRUE, sizeof(struct ew_sensor));
  g_array_set_clear_func(all->sensors, (GDestroyNotify)sensor_clear);
  for (guint i = 0; i < list->children->len; i++) {
    const struct ew_node *one = g_ptr_array_index(list->children, i);
    struct ew_sensor sensor = {0};
    gboolean good = ew_fields_read(&sensor_fields, one, where, NULL, &sensor, error);
    if (good)
      g_array_append_val(all->sensors, sensor);
    if (good && check(&sensor, error))
      continue;
    g_prefix_error(error, "%s:%u: ", where, one->line);
    ew_sensors_free(all);
    return NULL;
  }
  return all;
}

void ew_sensors_free(struct ew_sensors *all) {
  if (!all)
    return;
  g_array_unref(all->sensors);
  g_free(all);
}

static double from_table(const struct ew_sensor *s, double raw) {
  const double *x = (const double *)(void *)s->raw->data,
               *y = (const double *)(void *)s->values->data;
  for (guint i = 1; i < s->raw->len; i++)
    if (raw >= x[i - 1] && raw <= x[i])
      return y[i - 1] + (y[i] - y[i - 1]) * (raw - x[i - 1]) / (x[i] - x[i - 1]);
  return NAN;
}

/* `junction` NaN: the sensor's own, or none. */
static double apply(const struct ew_sensor *s, double raw, double junction) {
  double sum = 0;
  switch ((enum ew_sensor_kind)s->kind) {
  case EW_SENSOR_TABLE: return from_table(s, raw);
  case EW_SENSOR_POLYNOMIAL:
    for (guint i = s->coefficients->len; i-- > 0;)
      sum = sum * raw + g_array_index(s->coefficients, double, i);
    return sum;
  case EW_SENSOR_THERMOCOUPLE:
    if (s->junction && isnan(junction))
      return NAN; /* a cold junction that should be measured, and is not */
    if (!s->junction)
      junction = isnan(s->junction_celsius) ? 0 : s->junction_celsius;
    return ew_thermocouple_compensated((enum ew_thermocouple)s->type, raw, junction);
  case EW_SENSOR_LINEAR: return s->gain * raw + s->offset;
  }
  g_assert_not_reached();
}

static int find(const struct ew_source_channels *channels, const char *name) {
  for (guint i = 0; name && i < channels->count; i++)
    if (strcmp(channels->names[i], name) == 0)
      return (int)i;
  return -1;
}

void ew_sensor_plan_make(const struct ew_sensors *all, const struct ew_source_channels *raw,
                         struct ew_sensor_plan *plan) {
  plan->count = raw->count;
  plan->sensors = g_new0(const struct ew_sensor *, raw->count + 1);
  plan->junctions = g_new0(int, raw->count + 1);
  for (guint i = 0; i < raw->count; i++)
    plan->junctions[i] = -1;
  for (guint i = 0; all && i < all->sensors->len; i++) {
    const struct ew_sensor *s = &g_array_index(all->sensors, struct ew_sensor, i);
    int column = find(raw, s->channel);
    if (column < 0)
      continue;
    plan->sensors[column] = s;
    plan->junctions[column] = find(raw, s->junction);
  }
}

void ew_sensor_plan_clear(struct ew_sensor_plan *plan) {
  g_clear_pointer(&plan->sensors, g_free);
  g_clear_pointer(&plan->junctions, g_free);
  plan->count = 0;
}

void ew_sensor_plan_apply(const struct ew_sensor_plan *plan, const double *raw, double *values) {
  for (guint i = 0; i < plan->count; i++) {
    const struct ew_sensor *s = plan->sensors[i];
    int junction = plan->junctions[i];
    double value = s ? apply(s, raw[i], junction < 0 ? (double)NAN : raw[junction]) : raw[i];
    values[i] = isfinite(value) ? value : (double)NAN;
  }
}

void ew_sensor_plan_channels(const struct ew_sensor_plan *plan,
                             const struct ew_source_channels *raw,
                             struct ew_source_channels *channels) {
  channels->count = raw->count;
  channels->names = g_new0(char *, raw->count + 1);
  channels->units = g_new0(char *, raw->count + 1);
  for (guint i = 0; i < raw->count; i++) {
    const struct ew_sensor *s = plan->sensors[i];
    const char *unit = s && s->kind == EW_SENSOR_THERMOCOUPLE ? "degC" : s ? s->unit : NULL;
    channels->names[i] = g_strdup(s && s->name ? s->name : raw->names[i]);
    channels->units[i] = g_strdup(unit ? unit : s ? "" : raw->units[i]);
  }
}

void ew_source_channels_clear(struct ew_source_channels *channels) {
  g_clear_pointer(&channels->names, g_strfreev);
  g_clear_pointer(&channels->units, g_strfreev);
  channels->count = 0;
}
