/* An engine's file by its field tables: groups read, written, copied and cleared by one loop over them. What no
 * single field can say is in engine_rules.c. */
#include "engine/engine.h"
#include "base/error.h"
#include "base/language.h"
#include "base/message.h"
#include "base/words.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(valve_train, "engine.valve-train", EW_NOTE, "valve train");
EW_MESSAGE(rods, "engine.rods", EW_NOTE, "rods");
EW_MESSAGE(crankshaft, "engine.crankshaft", EW_NOTE, "crankshaft");
EW_MESSAGE(damper, "engine.damper", EW_NOTE, "damper");

static void *group_of(struct ew_engine *engine, gsize i) {
  g_assert(i < ew_engine_groups_count);
  return (char *)engine + ew_engine_groups[i].offset;
}

static const void *group_in(const struct ew_engine *engine, gsize i) {
  g_assert(i < ew_engine_groups_count);
  return (const char *)engine + ew_engine_groups[i].offset;
}

void ew_engine_defaults(struct ew_engine *engine) {
  memset(engine, 0, sizeof *engine);
  ew_fields_defaults(&ew_engine_fields, engine);
  for (gsize i = 0; i < ew_engine_groups_count; i++)
    ew_fields_defaults(ew_engine_groups[i].fields, group_of(engine, i));
}

void ew_engine_clear(struct ew_engine *engine) {
  ew_fields_clear(&ew_engine_fields, engine);
  for (gsize i = 0; i < ew_engine_groups_count; i++)
    ew_fields_clear(ew_engine_groups[i].fields, group_of(engine, i));
}

void ew_engine_copy(const struct ew_engine *from, struct ew_engine *to) {
  ew_fields_copy(&ew_engine_fields, from, to);
  for (gsize i = 0; i < ew_engine_groups_count; i++)
    ew_fields_copy(ew_engine_groups[i].fields, group_in(from, i), group_of(to, i));
}

/* A group's name with nothing under it, as the template has it, is a group left at its defaults. */
static gboolean is_empty(const struct ew_node *node) {
  return node->kind == EW_NODE_SCALAR && !node->quoted && !*node->text;
}

static gboolean read_groups(const struct ew_node *map, const char *where, struct ew_engine *engine,
                            GError **error) {
  for (gsize i = 0; i < ew_engine_groups_count; i++) {
    const struct ew_engine_group *group = &ew_engine_groups[i];
    const struct ew_node *node = ew_node_member(map, group->key);
    ew_fields_defaults(group->fields, group_of(engine, i));
    if (!node || is_empty(node))
      continue;
    g_autofree char *place = g_strdup_printf("%s, %s", where, group->key);
    if (!ew_fields_read(group->fields, node, place, NULL, group_of(engine, i), error)) {
      ew_error_in_group(error, group->key);
      return FALSE;
    }
  }
  return TRUE;
}

gboolean ew_engine_read(const struct ew_node *map, const char *where, struct ew_engine *engine,
                        GError **error) {
  g_autofree const char **groups = g_new0(const char *, ew_engine_groups_count + 1);
  for (gsize i = 0; i < ew_engine_groups_count; i++)
    groups[i] = ew_engine_groups[i].key;
  if (!ew_fields_read(&ew_engine_fields, map, where, groups, engine, error))
    return FALSE;
  if (read_groups(map, where, engine, error) && ew_engine_agrees(engine, where, error))
    return TRUE;
  ew_engine_clear(engine);
  return FALSE;
}

void ew_engine_write_json(const struct ew_engine *engine, struct ew_json *json) {
  ew_fields_write_json(&ew_engine_fields, engine, json);
  for (gsize i = 0; i < ew_engine_groups_count; i++) {
    ew_json_open(json, ew_engine_groups[i].key);
    ew_fields_write_json(ew_engine_groups[i].fields, group_in(engine, i), json);
    ew_json_close(json);
  }
}

/* Every line of `text` behind two spaces; empty lines stay empty. */
static void append_indented(GString *to, const char *text) {
  g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
  for (gsize i = 0; lines[i]; i++)
    if (*lines[i])
      g_string_append_printf(to, "  %s\n", lines[i]);
    else if (lines[i + 1])
      g_string_append_c(to, '\n');
}

char *ew_engine_write_yaml(const struct ew_engine *engine) {
  g_autofree char *top = ew_fields_write_yaml(&ew_engine_fields, engine);
  GString *text = g_string_new(top);
  for (gsize i = 0; i < ew_engine_groups_count; i++) {
    g_autofree char *group = ew_fields_write_yaml(ew_engine_groups[i].fields, group_in(engine, i));
    if (!*group)
      continue;
    g_string_append_printf(text, "%s:\n", ew_engine_groups[i].key);
    append_indented(text, group);
  }
  return g_string_free(text, FALSE);
}

char *ew_engine_template(void) {
  g_autofree char *top = ew_fields_template(&ew_engine_fields);
  GString *text = g_string_new(
      ew_tr(EW_TEXT("# An engine. Write any usual unit; remove the # where a figure is "
                    "known,\n# and leave out what is not.\n")));
  g_string_append_c(text, '\n');
  g_string_append(text, top);
  for (gsize i = 0; i < ew_engine_groups_count; i++) {
    const struct ew_engine_group *group = &ew_engine_groups[i];
    g_autofree char *inside = ew_fields_template(group->fields);
    g_string_append_printf(text, "\n# ===== %s\n%s:\n", ew_tr(group->heading), group->key);
    append_indented(text, inside);
  }
  return g_string_free(text, FALSE);
}

char *ew_engine_manual(void) {
  g_autofree char *top = ew_fields_manual(&ew_engine_fields);
  GString *text = g_string_new(top);
  for (gsize i = 0; i < ew_engine_groups_count; i++) {
    g_autofree char *inside = ew_fields_manual(ew_engine_groups[i].fields);
    g_string_append_printf(text, "\n### `%s`: %s\n\n%s", ew_engine_groups[i].key,
                           ew_tr(ew_engine_groups[i].heading), inside);
  }
  return g_string_free(text, FALSE);
}

double ew_engine_displacement_m3(const struct ew_engine *engine) {
  double computed =
      G_PI / 4 * engine->bore_m * engine->bore_m * engine->stroke_m * engine->cylinders;
  return isnan(computed) ? engine->displacement_stated_m3 : computed;
}

double ew_engine_cycles_per_turn(const struct ew_engine *engine) {
  return engine->strokes == 0 ? 0.5 : 1.0;
}

double ew_engine_lowest_limit_rpm(const struct ew_engine *engine,
                                  const struct ew_message_kind **which) {
  const struct {
    double limit;
    const struct ew_message_kind *part;
  } limits[] = {{engine->valve_train_limit_rpm, &valve_train},
                {engine->rod_limit_rpm, &rods},
                {engine->crank_limit_rpm, &crankshaft},
                {engine->damper_limit_rpm, &damper}};
  double lowest = NAN;
  *which = NULL;
  for (gsize i = 0; i < G_N_ELEMENTS(limits); i++)
    if (!isnan(limits[i].limit) && !(limits[i].limit >= lowest)) {
      lowest = limits[i].limit;
      *which = limits[i].part;
    }
  return lowest;
}

double ew_engine_top_speed_rpm(const struct ew_engine *engine) {
  const struct ew_message_kind *which;
  if (!isnan(engine->agreed_limit_rpm))
    return engine->agreed_limit_rpm;
  double lowest = ew_engine_lowest_limit_rpm(engine, &which);
  return isnan(lowest) ? engine->breathing.power_speed_rpm : lowest;
}
