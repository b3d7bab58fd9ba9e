/* Which figures are sliders, read from the field tables, and one of them turned: the typed YAML gets the new text in
 * that place, a list every item by the same amount. What is out of the field's range is refused. */
#include "serve/turns.h"
#include "base/node_change.h"
#include "base/error.h"
#include "base/number.h"
#include "desk/variation.h"
#include "serve/request.h"
#include <math.h>
#include <string.h>

#define TURNS_MOST 60

/* The mean of a list of quantities, or a quantity. */
static double value_of(const struct ew_field *f, const void *record, guint *items) {
  const char *at = (const char *)record + f->offset;
  *items = 1;
  if (f->type == EW_FIELD_QUANTITY)
    return *(const double *)(const void *)at;
  const GArray *list = *(GArray *const *)(const void *)at;
  *items = list ? list->len : 0;
  double sum = 0;
  for (guint i = 0; list && i < list->len; i++)
    sum += g_array_index(list, double, i);
  return *items ? sum / *items : NAN;
}

/* A figure that another one of the same group stands before does nothing when it is turned. */
static gboolean stands_behind(const struct ew_engine *e, const char *group, const char *name) {
  gboolean volumes = e->compression.chambers || !isnan(e->compression.chamber_m3);
  if (strcmp(group, "compression") == 0)
    return (strcmp(name, "ratio") == 0 && volumes) ||
           (strcmp(name, "chamber") == 0 && e->compression.chambers);
  const struct ew_engine_valves *v = strcmp(group, "inlet") == 0     ? &e->inlet
                                     : strcmp(group, "exhaust") == 0 ? &e->exhaust
                                                                     : NULL;
  if (v && v->lobe_readings)
    return strcmp(name, "duration") == 0 || strcmp(name, "check_duration") == 0 ||
           strcmp(name, "lobe_lift") == 0 || strcmp(name, "gross_lift") == 0;
  if (strcmp(name, "throttle_diameter") ==
      0) /* one a cylinder: the runners breathe from the open air */
    return isnan(e->breathing.plenum_m3) && e->breathing.throttles >= e->cylinders;
  return v && strcmp(name, "check_duration") == 0 && !isnan(v->duration_deg);
}

static const struct ew_fields *table_of(gsize g) {
  g_assert(g <= ew_engine_groups_count);
  return g ? ew_engine_groups[g - 1].fields : &ew_engine_fields;
}

static const char *key_of(gsize g) {
  g_assert(g <= ew_engine_groups_count);
  return g ? ew_engine_groups[g - 1].key : "";
}

static const void *record_of(const struct ew_engine *e, gsize g) {
  g_assert(g <= ew_engine_groups_count);
  return (const char *)e + (g ? ew_engine_groups[g - 1].offset : 0);
}

static void write_slider(const struct ew_engine *base, const struct ew_engine *now, gsize g,
                         const struct ew_field *f, struct ew_json *json) {
  guint items;
  double from = value_of(f, record_of(base, g), &items),
         value = value_of(f, record_of(now, g), &items);
  if (isnan(from) || isnan(value) || stands_behind(now, key_of(g), f->name))
    return;
  g_assert(items > 0 && f->turn_reach > 0 && f->turn_step > 0);
  /* ends a whole number of steps away, inside the field's range */
  double below = floor(fmin(f->turn_reach, from - f->minimum) / f->turn_step + 1e-6);
  double above = floor(fmin(f->turn_reach, f->maximum - from) / f->turn_step + 1e-6);
  ew_json_open(json, NULL);
  ew_json_text(json, "group", key_of(g));
  ew_json_text(json, "name", f->name);
  ew_json_text(json, "kind", ew_kind_name(f->kind));
  ew_json_text(json, "help", f->help);
  ew_json_text(json, "with", f->turn_with);
  ew_json_integer(json, "items", items);
  ew_json_number(json, "base", from);
  ew_json_number(json, "value", value);
  ew_json_number(json, "low", from - below * f->turn_step);
  ew_json_number(json, "high", from + above * f->turn_step);
  ew_json_number(json, "step", f->turn_step);
  ew_json_close(json);
}

void ew_turns_write_json(const struct ew_engine *base, const struct ew_engine *now,
                         struct ew_json *json) {
  ew_json_open_array(json, "sliders");
  for (gsize g = 0; g <= ew_engine_groups_count; g++)
    for (gsize i = 0; i < table_of(g)->count; i++)
      if (table_of(g)->fields[i].turn_step > 0)
        write_slider(base, now, g, &table_of(g)->fields[i], json);
  ew_json_close_array(json);
}

/* ---- turning ---- */

static struct ew_node *scalar(const char *key, const char *text) {
  struct ew_node *node = g_new0(struct ew_node, 1);
  node->kind = EW_NODE_SCALAR;
  node->key = g_strdup(key);
  node->text = g_strdup(text);
  node->line = 1;
  return node;
}

static struct ew_node *empty(const char *key, enum ew_node_kind kind) {
  struct ew_node *node = g_new0(struct ew_node, 1);
  node->kind = kind;
  node->key = g_strdup(key);
  node->line = 1;
  node->children = g_ptr_array_new_with_free_func((GDestroyNotify)ew_node_free);
  return node;
}

/* Puts a member in the place of the one with its key. */
static void put(struct ew_node *map, struct ew_node *member) {
  for (guint i = 0; i < map->children->len; i++) {
    struct ew_node *old = g_ptr_array_index(map->children, i);
    if (strcmp(old->key, member->key) == 0) {
      map->children->pdata[i] = member;
      ew_node_free(old);
      return;
    }
  }
  g_ptr_array_add(map->children, member);
}

static struct ew_node *home_of(struct ew_node *typed, const char *group) {
  if (!*group)
    return typed;
  struct ew_node *home = ew_node_member_of(typed, group);
  if (!home || home->kind != EW_NODE_MAP)
    put(typed, home = empty(group, EW_NODE_MAP));
  return home;
}

/* A figure as a person would type it: two places more than the step needs, no idle zeros. */
static char *figure(const struct ew_field *f, double inside, enum ew_unit_system units) {
  char buffer[EW_NUMBER_SIZE];
  g_assert(f->turn_step > 0);
  double step = fabs(ew_shown(f->kind, units, f->turn_step) - ew_shown(f->kind, units, 0));
  int decimals = CLAMP((int)ceil(-log10(step) - 1e-9) + 2, 0, 8);
  g_autofree char *text =
      g_strdup(ew_number_fixed(ew_shown(f->kind, units, inside), decimals, buffer));
  for (gsize n = strlen(text); decimals > 0 && n > 1 && strchr("0.", text[n - 1]); n--) {
    gboolean point = text[n - 1] == '.';
    text[n - 1] = 0;
    if (point)
      break;
  }
  const ew_language *readers = ew_language_of_thread(ew_language_english()); /* it is stored */
  const char *unit = ew_kind_shown(f->kind, units);
  ew_language_of_thread(readers);
  return *unit ? g_strdup_printf("%s %s", text, unit) : g_steal_pointer(&text);
}

/* A number is the figure itself. A text follows the rule of all changes: a sign changes by, a percentage scales, else it
 * sets; but where a figure may lie below nothing, a minus is its own. */
static gboolean read_to(const struct ew_field *f, const struct ew_node *to, double from,
                        double *value, GError **error) {
  struct ew_adjustment change;
  gboolean own = f->minimum < 0 && (*to->text == '-' || g_str_has_prefix(to->text, "−")) &&
                 !strchr(to->text, '%');
  if (to->number) {
    if (!ew_number_parse(to->text, value))
      return ew_refuse(error, "%s: '%s' is not a number", f->name, to->text);
  } else if (own) {
    if (!ew_quantity_parse(f->name, to->text, f->kind, value, error))
      return FALSE;
  } else if (ew_adjustment_parse(f->name, to->text, f->kind, f->kind, &change, error))
    *value = ew_adjusted(change, from);
  else
    return FALSE;
  if (*value >= f->minimum && *value <= f->maximum)
    return TRUE;
  g_autofree char *low = ew_quantity_format(f->kind, EW_UNITS_SI, f->minimum, 2);
  g_autofree char *high = ew_quantity_format(f->kind, EW_UNITS_SI, f->maximum, 2);
  return ew_refuse(error, "%s: '%s' is outside %s to %s", f->name, to->text, low, high);
}

static void put_list(struct ew_node *home, const struct ew_field *f, const void *record, double by,
                     enum ew_unit_system units) {
  const GArray *now = *(GArray *const *)(const void *)((const char *)record + f->offset);
  g_assert(now && now->len > 0); /* its mean was a figure */
  struct ew_node *list = empty(f->name, EW_NODE_LIST);
  for (guint i = 0; i < now->len; i++) {
    g_autofree char *text = figure(f, g_array_index(now, double, i) + by, units);
    g_ptr_array_add(list->children, scalar(NULL, text));
  }
  put(home, list);
}

static gboolean turn_one(struct ew_node *typed, const struct ew_engine *e, gsize g,
                         const struct ew_field *f, const struct ew_node *to,
                         enum ew_unit_system units, GError **error) {
  double value;
  guint items, others;
  double from = value_of(f, record_of(e, g), &items);
  if (isnan(from))
    return ew_refuse(error,
                     "%s: the engine's file does not have it; enter it on the Engine screen first",
                     f->name);
  if (!read_to(f, to, from, &value, error))
    return FALSE;
  struct ew_node *home = home_of(typed, key_of(g));
  const struct ew_field *with = f->turn_with ? ew_fields_find(table_of(g), f->turn_with) : NULL;
  double partner = with ? value_of(with, record_of(e, g), &others) : NAN;
  if (f->type == EW_FIELD_NUMBERS)
    put_list(home, f, record_of(e, g), value - from, units);
  else {
    gboolean as_typed = !to->number && g_ascii_isdigit(*to->text) && !strchr(to->text, '%');
    g_autofree char *text = as_typed ? g_strdup(to->text) : figure(f, value, units);
    put(home, scalar(f->name, text));
  }
  if (!isnan(partner)) {
    g_autofree char *text = figure(with, partner + value - from, units);
    put(home, scalar(with->name, text));
  }
  return TRUE;
}

static gboolean find_turn(struct ew_node *typed, const struct ew_engine *e,
                          const struct ew_node *turn, enum ew_unit_system units, GError **error) {
  const char *group = ew_node_text(turn, "group"), *name = ew_node_text(turn, "name");
  const struct ew_node *to = ew_node_member(turn, "to");
  if (!group || !name || !to || to->kind != EW_NODE_SCALAR)
    return ew_refuse(error, "turns: each needs group, name and to");
  if (!*group && strcmp(name, "fuel") == 0) {
    put(typed, scalar("fuel", to->text));
    return TRUE;
  }
  for (gsize g = 0; g <= ew_engine_groups_count; g++) {
    const struct ew_field *f =
        strcmp(key_of(g), group) == 0 ? ew_fields_find(table_of(g), name) : NULL;
    if (f && f->turn_step > 0) {
      if (turn_one(typed, e, g, f, to, units, error))
        return TRUE;
      ew_error_at_field(error, name);
      if (*group)
        ew_error_in_group(error, group);
      return FALSE;
    }
  }
  return ew_refuse(error, "turns: '%.40s.%.40s' is not a figure that can be changed", group, name);
}

gboolean ew_turns_apply(struct ew_node *typed, const struct ew_node *turns,
                        enum ew_unit_system units, GError **error) {
  struct ew_engine engine;
  if (!turns)
    return TRUE;
  if (turns->kind != EW_NODE_LIST || turns->children->len > TURNS_MOST)
    return ew_refuse(error, "turns: give a list of up to %d", TURNS_MOST);
  if (!ew_engine_read(typed, "engine", &engine, error))
    return FALSE;
  gboolean good = TRUE;
  for (guint i = 0; good && i < turns->children->len; i++) {
    const struct ew_node *turn = g_ptr_array_index(turns->children, i);
    good = turn->kind == EW_NODE_MAP ? find_turn(typed, &engine, turn, units, error)
                                     : ew_refuse(error, "turns: each needs group, name and to");
  }
  ew_engine_clear(&engine);
  return good;
}
