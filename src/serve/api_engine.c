/* The combination: its field table for the form, an engine as typed, and what follows from it. */
#include "base/error.h"
#include "base/language.h"
#include "base/words.h"
#include "base/yaml_keep.h"
#include "engine/check.h"
#include "gas/fuel.h"
#include "book/keep.h"
#include "serve/service.h"
#include <math.h>
#include <string.h>

static const char *const types[] = {
    [EW_FIELD_QUANTITY] = "quantity", [EW_FIELD_INTEGER] = "integer",
    [EW_FIELD_BOOLEAN] = "boolean",   [EW_FIELD_TEXT] = "text",
    [EW_FIELD_CHOICE] = "choice",     [EW_FIELD_NUMBERS] = "numbers",
    [EW_FIELD_CHOICES] = "choices"};

/* A bound as it was written: with as few decimals as it needs, at most two. */
static char *bound(const struct ew_field *f, double inside) {
  double shown = ew_shown(f->kind, EW_UNITS_SI, inside);
  int decimals = 0;
  for (double tenth = 1; decimals < 2 && fabs(shown * tenth - round(shown * tenth)) > 1e-6;
       tenth *= 10)
    decimals++;
  return ew_quantity_format(f->kind, EW_UNITS_SI, inside, decimals);
}

/* The examples of the field's kind that it would take itself; NULL: none. */
static char *examples_of(const struct ew_field *f) {
  if (f->type != EW_FIELD_QUANTITY && f->type != EW_FIELD_NUMBERS)
    return g_strdup(f->example);
  g_auto(GStrv) all = g_strsplit(ew_kind_examples(f->kind), ", ", -1);
  g_autoptr(GString) good = g_string_new(NULL);
  gboolean limited = f->minimum != 0 || f->maximum != 0;
  for (int i = 0; all[i]; i++) {
    double inside;
    if (!ew_quantity_parse(f->name, all[i], f->kind, &inside, NULL) ||
        (limited && !(inside >= f->minimum && inside <= f->maximum)))
      continue;
    g_string_append_printf(good, "%s%s", good->len ? ", " : "", all[i]);
  }
  return good->len ? g_string_free(g_steal_pointer(&good), FALSE) : NULL;
}

/* Names that the program knows for a field of free text: fuels, for an engine's. */
static void write_offers(const struct ew_field *f, struct ew_json *json) {
  if (f < ew_engine_fields.fields || f >= ew_engine_fields.fields + ew_engine_fields.count ||
      strcmp(f->name, "fuel") != 0)
    return;
  g_auto(GStrv) names = g_strsplit(ew_fuel_names(), ", ", -1);
  ew_json_open_array(json, "offers");
  for (int i = 0; names[i]; i++)
    ew_json_text(json, NULL, names[i]);
  ew_json_close_array(json);
}

static void write_field(const struct ew_field *f, struct ew_json *json) {
  g_assert(f->type < G_N_ELEMENTS(types));
  ew_json_open(json, NULL);
  ew_json_text(json, "name", f->name);
  ew_json_text(json, "type", types[f->type]);
  ew_json_text(json, "kind", ew_kind_name(f->kind));
  g_autofree char *examples = examples_of(f);
  ew_json_text(json, "examples", examples);
  if (f->minimum != 0 || f->maximum != 0) {
    g_autofree char *low = bound(f, f->minimum), *high = bound(f, f->maximum);
    g_autofree char *range = ew_words("%s to %s", low, high);
    ew_json_text(json, "range", range);
  }
  ew_json_text(json, "default", f->fallback);
  ew_json_text(json, "section", f->section);
  ew_json_text(json, "help", f->help);
  ew_json_text(json, "origin", f->origin);
  write_offers(f, json);
  if (f->choices) {
    ew_json_open_array(json, "choices");
    for (int i = 0; f->choices[i]; i++)
      ew_json_text(json, NULL, f->choices[i]);
    ew_json_close_array(json);
  }
  ew_json_close(json);
}

void ew_service_write_fields(const char *key, const char *heading, const struct ew_fields *table,
                             struct ew_json *json) {
  ew_json_open(json, NULL);
  ew_json_text(json, "key", key);
  ew_json_text(json, "heading", heading);
  ew_json_open_array(json, "fields");
  for (gsize i = 0; i < table->count; i++)
    write_field(&table->fields[i], json);
  ew_json_close_array(json);
  ew_json_close(json);
}

gboolean ew_api_engine_fields(struct ew_service *s, const struct ew_request *r,
                              struct ew_reply *reply, GError **error) {
  (void)s;
  (void)r;
  (void)error;
  ew_json_open_array(&reply->json, "groups");
  ew_service_write_fields("", EW_TEXT("The engine"), &ew_engine_fields, &reply->json);
  for (gsize i = 0; i < ew_engine_groups_count; i++)
    ew_service_write_fields(ew_engine_groups[i].key, ew_engine_groups[i].heading,
                            ew_engine_groups[i].fields, &reply->json);
  ew_json_close_array(&reply->json);
  return TRUE;
}

static char *version_of(const char *yaml) {
  return g_compute_checksum_for_string(G_CHECKSUM_SHA256, yaml, -1);
}

gboolean ew_api_engine(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                       GError **error) {
  g_autofree char *id = g_strdup_printf("%" G_GINT64_FORMAT, r->id);
  struct ew_engine_row row;
  if (!ew_engine_get(s->book, id, &row, error))
    return FALSE;
  g_autoptr(ew_node) root = ew_node_parse(row.name, row.yaml, strlen(row.yaml), error);
  g_autofree char *version = version_of(row.yaml);
  if (root) {
    ew_json_integer(&reply->json, "id", row.id);
    ew_json_text(&reply->json, "version", version);
    ew_json_open(&reply->json, "typed");
    ew_node_write_json(root, &reply->json);
    ew_json_close(&reply->json);
  }
  ew_engine_row_clear(&row);
  return root != NULL;
}

/* { "typed": {...}, "version": what the page began from; absent for a new engine } */
gboolean ew_api_engine_put(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                           GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  const struct ew_node *typed = body ? ew_node_member(body, "typed") : NULL;
  struct ew_engine engine;
  if (!body)
    return FALSE;
  if (!typed || typed->kind != EW_NODE_MAP)
    return ew_refuse(error, "typed: give the engine's fields");
  if (!ew_engine_read(typed, "engine", &engine, error))
    return FALSE;
  g_autofree char *name = g_strdup(engine.name);
  ew_engine_clear(&engine);
  if (!name || !*name)
    return ew_refuse(error, "name: an engine needs a name to be kept in the book");
  struct ew_engine_row row;
  g_autofree char *yaml = NULL, *was = NULL;
  if (!ew_engine_find(s->book, name, &row, error))
    return FALSE;
  if (row.id) {
    was = g_strdup(row.yaml);
    yaml = ew_yaml_keep(row.yaml, typed); /* a person's remarks stay */
    g_autofree char *version = version_of(row.yaml);
    gboolean same = g_strcmp0(version, ew_node_text(body, "version")) == 0;
    ew_engine_row_clear(&row);
    if (!same) {
      return ew_answer_no(
          error,
          "somebody else changed '%s' meanwhile: both are kept, yours on this page and "
          "theirs in the book; load theirs, or save again to put yours over it",
          name);
    }
  }
  if (!yaml)
    yaml = ew_yaml_write(typed);
  const struct ew_new_engine new = {.name = name, .yaml = yaml, .if_still = TRUE, .was = was};
  gint64 id = ew_keep_engine(s->book, &new, error);
  if (!id)
    return FALSE;
  g_autofree char *now = version_of(yaml);
  ew_json_integer(&reply->json, "id", id);
  ew_json_text(&reply->json, "version", now);
  reply->changed = TRUE;
  return TRUE;
}

gboolean ew_api_engine_check(struct ew_service *s, const struct ew_request *r,
                             struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  const struct ew_node *typed = body ? ew_node_member(body, "typed") : NULL;
  struct ew_engine engine;
  if (!body)
    return FALSE;
  if (!typed || typed->kind != EW_NODE_MAP)
    return ew_refuse(error, "typed: give the engine's fields");
  if (!ew_engine_read(typed, "engine", &engine, error))
    return FALSE;
  ew_engine_check_write_json(&engine, ew_service_units(s, r), &reply->json);
  g_autofree char *text = ew_engine_check_text(&engine, ew_service_units(s, r));
  ew_json_text(&reply->json, "text", text);
  ew_engine_clear(&engine);
  return TRUE;
}
