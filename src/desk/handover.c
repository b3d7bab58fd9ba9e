/* What is missing before an engine leaves: each reason once, the grave ones first. It blocks nothing by itself; who
 * asks decides. */
#include "desk/handover.h"
#include "book/store.h"
#include "desk/trip.h"
#include <string.h>

static void missing_clear(void *data) {
  struct ew_missing *m = data;
  g_free(m->about);
  g_free(m->text);
}

static void add(GArray *list, gboolean grave, const char *about, const char *text) {
  struct ew_missing one = {grave, g_strdup(about), g_strdup(text)};
  g_array_append_val(list, one);
}

static void add_message(GArray *list, gboolean grave, const char *about, const ew_message *m) {
  g_autofree char *text = ew_message_text(m, EW_UNITS_SI);
  add(list, grave, about, text);
}

/* The gate before dispatch, which holds the gates ahead of it. */
static gboolean add_steps(GArray *list, struct ew_book *book, gint64 engine_id, GError **error) {
  g_autoptr(GError) problem = NULL;
  g_autoptr(GPtrArray) open = ew_build_blocks(book, engine_id, EW_GATE_DISPATCH, &problem);
  if (problem) {
    g_propagate_error(error, g_steal_pointer(&problem));
    return FALSE;
  }
  if (!open)
    add(list, TRUE, "build",
        "there is no build record: build, care and dispatch sheets stay empty");
  for (guint i = 0; open && i < open->len; i++)
    add_message(list, TRUE, "checklist", open->pdata[i]);
  return TRUE;
}

static gboolean add_findings(GArray *list, struct ew_desk *desk, const struct ew_bench_build *b,
                             GError **error) {
  struct ew_build_result result;
  if (!ew_build_result_of(desk, b->engine_id, &result, error))
    return FALSE;
  g_autoptr(GPtrArray) findings = ew_build_check(b->build, &b->engine, &result);
  for (guint i = 0; i < findings->len; i++) {
    enum ew_severity severity = ew_message_severity(findings->pdata[i]);
    if (severity != EW_NOTE)
      add_message(list, severity == EW_DANGER, ew_message_subject(findings->pdata[i]),
                  findings->pdata[i]);
  }
  if (result.pulls == 0)
    add(list, TRUE, "pulls", "there is no pull to report on");
  return TRUE;
}

/* An engine is not handed over with a trip that nobody looked into. */
static void add_trips(GArray *list, struct ew_book *book, gint64 engine_id) {
  g_autoptr(GPtrArray) facts = ew_trips_open(book, engine_id);
  g_autoptr(GPtrArray) open = ew_messages_texts(facts, EW_UNITS_SI);
  for (guint i = 0; i < open->len; i++)
    add(list, TRUE, "trip", open->pdata[i]);
}

static void add_facts(GArray *list, struct ew_book *book, const struct ew_engine *e) {
  const struct {
    const char *value, *about, *text;
  } facts[] = {{e->serial, "serial", "the engine has no serial: sheets cannot be told apart"},
               {e->owner, "owner", "the engine's owner is not stated"},
               {e->equipment, "equipment", "the equipment fitted for the test is not stated"},
               {e->fuel, "fuel", "the fuel the engine is set for is not stated"}};
  for (gsize i = 0; i < G_N_ELEMENTS(facts); i++)
    if (!facts[i].value || !*facts[i].value)
      add(list, FALSE, facts[i].about, facts[i].text);
  g_autofree char *shop = ew_setting_get(book, "shop"), *terms = ew_setting_get(book, "terms"),
                  *overdue = ew_calibration_overdue(book);
  if (!shop || !*shop)
    add(list, FALSE, "shop", "the shop's name is not set: it heads every sheet");
  if (!terms || !*terms)
    add(list, FALSE, "terms", "the shop's terms are not set");
  if (overdue)
    add(list, FALSE, "calibration", overdue);
}

static gint by_gravity(gconstpointer a, gconstpointer b) {
  return ((const struct ew_missing *)b)->grave - ((const struct ew_missing *)a)->grave;
}

GArray *ew_desk_missing(struct ew_desk *desk, const char *engine, GError **error) {
  struct ew_bench_build b;
  GArray *list = g_array_new(FALSE, TRUE, sizeof(struct ew_missing));
  g_array_set_clear_func(list, missing_clear);
  if (!ew_bench_build_open(desk->book, engine, FALSE, &b, error))
    return g_array_unref(list), NULL;
  gboolean good =
      add_steps(list, desk->book, b.engine_id, error) && add_findings(list, desk, &b, error);
  add_trips(list, desk->book, b.engine_id);
  add_facts(list, desk->book, &b.engine);
  ew_bench_build_clear(&b);
  if (!good)
    return g_array_unref(list), NULL;
  g_array_sort(list, by_gravity); /* merge sort: equals keep their order */
  return list;
}
