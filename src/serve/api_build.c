/* The build record: what was measured against its target, lash valve by valve, checklists; and records
 * from a tablet at the engine. The same record again (same place, figure and time) adds nothing, so a
 * device may send what it is not sure of. */
#include "base/error.h"
#include "book/keep.h"
#include "desk/build.h"
#include "build/check.h"
#include "build/doubt.h"
#include "build/lash.h"
#include "build/position.h"
#include "build/walk.h"
#include "serve/service.h"
#include <math.h>
#include <string.h>

static void write_lines(const struct ew_bench_build *b, enum ew_unit_system units,
                        struct ew_json *json) {
  g_autoptr(GArray) lines = ew_build_lines(b->build, &b->engine);
  ew_json_open_array(json, "measurements");
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_build_line *l = &g_array_index(lines, struct ew_build_line, i);
    gboolean measured = l->value.count > 0;
    g_autofree char *shown = measured ? ew_build_show(l->kind, units, l->value.mean) : NULL;
    g_autofree char *low = isnan(l->low) ? NULL : ew_build_show(l->kind, units, l->low);
    g_autofree char *high = isnan(l->high) ? NULL : ew_build_show(l->kind, units, l->high);
    ew_json_open(json, NULL);
    ew_json_text(json, "item", l->name);
    ew_json_text(json, "position", l->position);
    ew_json_text(json, "stage", l->stage);
    ew_json_text(json, "shown", shown);
    ew_json_text(json, "low_shown", low);
    ew_json_text(json, "high_shown", high);
    ew_json_number(json, "mean", measured ? l->value.mean : (double)NAN);
    ew_json_number(json, "expanded", measured ? l->value.expanded : (double)NAN);
    ew_json_number(json, "low", l->low);
    ew_json_number(json, "high", l->high);
    ew_json_text(json, "from", l->from);
    ew_json_text(json, "verdict", ew_fit_word(l->verdict));
    ew_json_text(json, "caution", l->item ? l->item->caution : NULL);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static void write_after(const struct ew_build *build, struct ew_json *json) {
  const struct ew_build_after *after;
  ew_json_open_array(json, "after");
  EW_BUILD_EACH(build, AFTER, struct ew_build_after, after, i) {
    ew_json_open(json, NULL);
    ew_json_text(json, "at", after->mark.at);
    ew_json_text(json, "who", after->mark.who);
    ew_json_text(json, "what", after->what);
    ew_json_number(json, "running_s", after->running_s);
    ew_json_integer(json, "runs", after->runs);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static void write_steps(const struct ew_build *build, struct ew_json *json) {
  const struct ew_build_step *step;
  ew_json_open_array(json, "steps");
  EW_BUILD_EACH(build, STEP, struct ew_build_step, step, i) {
    ew_json_open(json, NULL);
    ew_json_text(json, "list", step->list);
    ew_json_text(json, "step", step->step);
    ew_json_text(json, "caution", step->caution);
    ew_json_text(json, "before", ew_build_gate_names[step->before]);
    ew_json_text(json, "state", ew_build_step_state_word(ew_build_step_state(build, step, NULL)));
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static void write_lash(const void *row, struct ew_json *json) {
  const struct ew_lash_row *r = row;
  double change = ew_lash_change_m(r);
  ew_json_text(json, "valve", r->valve);
  ew_json_number(json, "wanted_hot_m", r->wanted_m);
  ew_json_number(json, "cold_m", r->cold_m);
  ew_json_number(json, "hot_m", r->hot_m);
  ew_json_number(json, "growth_m", r->growth_m);
  ew_json_number(json, "change_m", change);
  ew_json_boolean(json, "stop", ew_lash_stops(change));
}

/* Without cam timing there is no walk, and the valves go in the order of the cylinders. */
static void write_walk(const struct ew_bench_build *b, struct ew_json *json) {
  g_autoptr(GError) why = NULL;
  g_autoptr(GArray) stops = ew_walk(&b->engine, FALSE, &why);
  ew_json_text(json, "no_walk_because", why ? why->message : NULL);
  ew_json_open_array(json, "walk");
  for (guint i = 0; stops && i < stops->len; i++) {
    const struct ew_walk_stop *stop = &g_array_index(stops, struct ew_walk_stop, i);
    ew_json_open(json, NULL);
    ew_json_integer(json, "firing", stop->firing);
    ew_json_integer(json, "companion", stop->companion);
    ew_json_number(json, "turn_deg", stop->turn_deg);
    ew_json_open_array(json, "valves");
    for (int k = 0; k < stop->count; k++) {
      g_autofree char *valve = g_strdup_printf("%d %s", stop->valves[k].cylinder,
                                               stop->valves[k].side ? "exhaust" : "inlet");
      ew_json_text(json, NULL, valve);
    }
    ew_json_close_array(json);
    ew_json_close(json);
  }
  ew_json_close_array(json);
  g_autoptr(GPtrArray) valves = ew_build_positions(&b->engine, EW_BY_VALVE, 0);
  ew_json_texts(json, "valves", valves);
}

static void write_findings(const struct ew_bench_build *b, enum ew_unit_system units,
                           struct ew_json *json) {
  g_autoptr(GPtrArray) findings = ew_build_check(b->build, &b->engine, NULL);
  ew_messages_write_json(findings, "findings", units, json);
}

/* One reading as it was kept, for the list of those that can be withdrawn. */
static void write_reading(const struct ew_build_mark *mark, const char *kind, const char *what,
                          const char *place, const char *stage, const char *shown,
                          struct ew_json *json) {
  ew_json_open(json, NULL);
  ew_json_integer(json, "id", mark->id);
  ew_json_text(json, "kind", kind);
  ew_json_text(json, "what", what);
  ew_json_text(json, "position", place);
  ew_json_text(json, "stage", stage);
  ew_json_text(json, "shown", shown);
  ew_json_text(json, "at", mark->at);
  ew_json_text(json, "who", mark->who);
  ew_json_text(json, "note", mark->note);
}

static void end_reading(struct ew_json *json) {
  ew_json_open_array(json, "details");
  ew_json_close_array(json);
  ew_json_close(json);
}

static void add_shown(GString *text, const char *name, enum ew_kind kind, enum ew_unit_system units,
                      double value) {
  if (isnan(value))
    return;
  g_autofree char *shown = ew_build_show(kind, units, value);
  g_string_append_printf(text, "%s%s%s", text->len ? ", " : "", name, shown);
}

static gboolean is_told_elsewhere(const char *name, const char *head) {
  static const char *const told[] = {"at",   "who",    "note",  "position", "stage",
                                     "sure", "torque", "angle", "stretch"};
  for (gsize i = 0; i < G_N_ELEMENTS(told); i++)
    if (strcmp(name, told[i]) == 0)
      return strcmp(head, "fastener") == 0 || i < 6;
  return strcmp(name, head) == 0;
}

/* What else was said, field by field; what nobody said, and what is so by default, is left out. Ends the reading. */
static void write_details(enum ew_build_kind kind, const void *record, enum ew_unit_system units,
                          const char *head, struct ew_json *json) {
  const struct ew_fields *table = ew_build_fields(kind, EW_KINDS_COUNT, FALSE);
  ew_json_open_array(json, "details");
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    g_autofree char *shown = ew_field_show(field, record, units),
                    *typed = ew_field_typed(field, record);
    if (!shown || is_told_elsewhere(field->name, head) || g_strcmp0(typed, field->fallback) == 0)
      continue;
    ew_json_open(json, NULL);
    ew_json_text(json, "name", field->name);
    ew_json_text(json, "shown", shown);
    ew_json_close(json);
  }
  ew_json_close_array(json);
  ew_json_close(json);
}

/* Kinds of which a text is the head: which one. */
static const struct other {
  enum ew_build_kind kind;
  const char *head;
} others[] = {{EW_BUILD_AGREED, "what"},
              {EW_BUILD_PART, "part"},
              {EW_BUILD_SEEN, "what"},
              {EW_BUILD_AFTER, "what"}};

static char *text_of(enum ew_build_kind kind, const void *record, const char *name) {
  const struct ew_fields *table = ew_build_fields(kind, EW_KINDS_COUNT, FALSE);
  for (gsize i = 0; i < table->count; i++)
    if (strcmp(table->fields[i].name, name) == 0)
      return ew_field_typed(&table->fields[i], record);
  return NULL;
}

static void write_other(const struct other *other, const void *record, enum ew_unit_system units,
                        struct ew_json *json) {
  g_autofree char *what = text_of(other->kind, record, other->head),
                  *place = text_of(other->kind, record, "position"),
                  *stage = text_of(other->kind, record, "stage");
  write_reading(record, ew_build_kind_key(other->kind), what, place, stage, "", json);
  write_details(other->kind, record, units, other->head, json);
}

static void write_readings(const struct ew_build *build, enum ew_unit_system units,
                           struct ew_json *json) {
  const struct ew_build_measure *m;
  const struct ew_build_lash *l;
  const struct ew_build_torque *t;
  ew_json_open_array(json, "readings");
  EW_BUILD_EACH(build, MEASURE, struct ew_build_measure, m, i) {
    g_autoptr(GString) text = g_string_new(NULL);
    for (guint k = 0; k < m->readings->len; k++)
      add_shown(text, "", m->quantity, units, g_array_index(m->readings, double, k));
    write_reading(&m->mark, "measured", m->item, m->position, m->stage, text->str, json);
    end_reading(json);
  }
  EW_BUILD_EACH(build, LASH, struct ew_build_lash, l, j) {
    g_autoptr(GString) text = g_string_new(NULL);
    add_shown(text, "cold ", EW_KIND_LENGTH, units, l->cold_m);
    add_shown(text, "hot ", EW_KIND_LENGTH, units, l->hot_m);
    write_reading(&l->mark, "lash", "lash", l->valve, l->stage, text->str, json);
    end_reading(json);
  }
  EW_BUILD_EACH(build, TORQUE, struct ew_build_torque, t, n) {
    g_autoptr(GString) text = g_string_new(NULL);
    add_shown(text, "", EW_KIND_TORQUE, units, t->torque_n_m);
    add_shown(text, "", EW_KIND_ANGLE, units, t->angle_deg);
    add_shown(text, "stretch ", EW_KIND_LENGTH, units, t->stretch_m);
    write_reading(&t->mark, "torques", t->fastener, t->position, t->stage, text->str, json);
    write_details(EW_BUILD_TORQUE, t, units, "fastener", json);
  }
  for (gsize i = 0; i < G_N_ELEMENTS(others); i++)
    for (guint k = 0; k < build->records[others[i].kind]->len; k++)
      write_other(&others[i], build->records[others[i].kind]->pdata[k], units, json);
  ew_json_close_array(json);
}

/* What the shop wrote for its other builds comes first, the newest foremost: like builds are found by the same words
 * (ew_build_growth), and a second spelling would part them. A build that cannot be read offers nothing and keeps nobody
 * from beginning another. Linear in the builds of the book, each read once. */
enum offered { OFFER_FAMILY, OFFER_BLOCK, OFFER_HEAD, OFFER_ROCKER, OFFERS };
static const char *const offer_names[] = {"family", "block", "head", "rocker"};
G_STATIC_ASSERT(G_N_ELEMENTS(offer_names) == OFFERS);

static void offer(GPtrArray *list, const char *text) {
  if (!text || !*text)
    return;
  for (guint i = 0; i < list->len; i++)
    if (g_ascii_strcasecmp(list->pdata[i], text) == 0)
      return;
  g_ptr_array_add(list, g_strdup(text));
}

static void gather_offers(struct ew_book *book, GPtrArray *offers[OFFERS]) {
  g_autoptr(GArray) rows = ew_build_list(book, 0, NULL);
  for (guint i = rows ? rows->len : 0; i-- > 0;) {
    g_autoptr(ew_build) build =
        ew_build_load(book, g_array_index(rows, struct ew_build_row, i).id, NULL);
    const struct ew_build_facts *facts = build ? ew_build_facts_of(build) : NULL;
    if (!facts)
      continue;
    offer(offers[OFFER_FAMILY], facts->family);
    offer(offers[OFFER_BLOCK], facts->block);
    offer(offers[OFFER_HEAD], facts->head);
    offer(offers[OFFER_ROCKER], facts->rocker);
  }
}

static void write_offers(struct ew_book *book, struct ew_json *json) {
  GPtrArray *offers[OFFERS];
  for (int k = 0; k < OFFERS; k++)
    offers[k] = g_ptr_array_new_with_free_func(g_free);
  gather_offers(book, offers);
  for (int i = 0; ew_build_materials[i]; i++) {
    offer(offers[OFFER_BLOCK], ew_build_materials[i]);
    offer(offers[OFFER_HEAD], ew_build_materials[i]);
  }
  ew_json_open(json, "offers");
  for (int k = 0; k < OFFERS; k++) {
    ew_json_open_array(json, offer_names[k]);
    for (guint i = 0; i < offers[k]->len; i++)
      ew_json_text(json, NULL, offers[k]->pdata[i]);
    ew_json_close_array(json);
    g_ptr_array_unref(offers[k]);
  }
  ew_json_close(json);
}

gboolean ew_api_build(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                      GError **error) {
  struct ew_bench_build b = {0};
  struct ew_json *json = &reply->json;
  enum ew_unit_system units = ew_service_units(s, r);
  struct ew_engine_row engine;
  if (!ew_engine_find(s->book, ew_request_query(r, "engine"), &engine, error))
    return FALSE;
  gboolean any = engine.id != 0;
  ew_engine_row_clear(&engine);
  if (!any) {
    ew_json_boolean(json, "begun", FALSE);
    return TRUE;
  }
  gboolean good = ew_bench_build_open(s->book, ew_request_query(r, "engine"), FALSE, &b, error);
  if (good) {
    gboolean begun = b.build && b.build->id != 0;
    ew_json_boolean(json, "begun", begun);
    ew_json_text(json, "engine", b.engine_name);
    write_walk(&b, json);
    if (!begun)
      write_offers(s->book, json);
    else {
      write_lines(&b, units, json);
      write_steps(b.build, json);
      write_after(b.build, json);
      g_autoptr(GArray) lash = ew_lash_rows(b.build, &b.engine);
      ew_json_rows(json, "lash", lash, write_lash);
      write_readings(b.build, units, json);
      write_findings(&b, units, json);
    }
  }
  ew_bench_build_clear(&b);
  return good;
}

static gboolean keep_start(struct ew_service *s, const struct ew_bench_build *b,
                           const struct ew_node *facts, GError **error) {
  const struct ew_build_start_ask ask = {.facts = facts, .where = "build"};
  guint added;
  return ew_bench_build_start(s->book, b->engine_name, ew_node_text(facts, "build"), &ask, &added,
                              error);
}

gboolean ew_api_build_start(struct ew_service *s, const struct ew_request *r,
                            struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  struct ew_bench_build b = {0};
  gboolean good = body && ew_bench_build_open(s->book, NULL, FALSE, &b, error) &&
                  keep_start(s, &b, body, error);
  reply->changed = good;
  ew_bench_build_clear(&b);
  return good;
}

/* Kinds that a page may add, by their keys in a build file. */
static gboolean find_kind(const char *key, enum ew_build_kind *kind, GError **error) {
  static const enum ew_build_kind known[] = {EW_BUILD_MEASURE, EW_BUILD_LASH, EW_BUILD_PART,
                                             EW_BUILD_TORQUE,  EW_BUILD_TICK, EW_BUILD_AGREED,
                                             EW_BUILD_SEEN,    EW_BUILD_AFTER};
  for (gsize i = 0; key && i < G_N_ELEMENTS(known); i++)
    if (strcmp(key, ew_build_kind_key(known[i])) == 0) {
      *kind = known[i];
      return TRUE;
    }
  return ew_refuse(error,
                   "kind: give one of measured, lash, parts, torques, done, agreed, seen, after");
}

/* Where it belongs, in the one spelling of that place: "main 3" was typed, "3" it is. NULL: of no place. */
static const char *place_of(enum ew_build_kind kind, const void *record) {
  const struct ew_build_measure *m = record;
  const struct ew_build_lash *l = record;
  return kind == EW_BUILD_MEASURE ? m->position : kind == EW_BUILD_LASH ? l->valve : NULL;
}

/* The field tells this question from that of a figure out of reach. */
static gboolean is_first(enum ew_build_kind kind, const void *record, const struct ew_build *build,
                         GError **error) {
  if (ew_build_first_there(kind, record, "record", build, error))
    return TRUE;
  ew_error_at_field(error, "position");
  return FALSE;
}

gboolean ew_api_build_record(struct ew_service *s, const struct ew_request *r,
                             struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  const struct ew_node *map = body ? ew_node_member(body, "record") : NULL;
  struct ew_bench_build b = {0};
  enum ew_build_kind kind = EW_BUILD_KINDS_COUNT;
  gboolean first = body && g_strcmp0(ew_node_text(body, "first"), "yes") == 0;
  if (!body || !find_kind(ew_node_text(body, "kind"), &kind, error))
    return FALSE;
  if (!map || map->kind != EW_NODE_MAP)
    return ew_refuse(error, "record: give its fields");
  if (!ew_node_text(map, "at"))
    return ew_refuse(error, "at: give the time of the reading, so that it is not kept twice");
  gboolean good = ew_bench_build_open(s->book, NULL, TRUE, &b, error);
  void *record = good ? ew_build_record_read(kind, map, "record", b.build, &b.engine, error) : NULL;
  struct ew_kept_record kept = {0};
  good = record && (!first || is_first(kind, record, b.build, error)) &&
         ew_keep_build_record(s->book, b.build->id, kind, record, &kept, error);
  ew_json_boolean(&reply->json, "added", kept.added);
  ew_json_text(&reply->json, "position", record ? place_of(kind, record) : NULL);
  if (record)
    ew_build_record_free(kind, record);
  reply->changed = good && kept.added;
  ew_bench_build_clear(&b);
  return good;
}

gboolean ew_api_build_withdraw(struct ew_service *s, const struct ew_request *r,
                               struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  const char *why = body ? ew_node_text(body, "reason") : NULL;
  if (!body)
    return FALSE;
  if (!why || !*why || strlen(why) > 1000)
    return ew_refuse(error, "reason: give up to 1,000 bytes; a withdrawn record is kept with it");
  if (!ew_keep_build_withdrawn(s->book, r->id, why, error))
    return FALSE;
  reply->changed = TRUE;
  return TRUE;
}
