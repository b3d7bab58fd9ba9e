/* What is missing before an engine leaves: each reason once, the grave ones first. It blocks nothing by itself; who
 * asks decides. */
#include "desk/handover.h"
#include "book/store.h"
#include "desk/trip.h"
#include <string.h>

static void missing_clear(void *data) {
  struct ew_missing *m = data;
  g_free(m->about);
  ew_message_free(m->what);
}

EW_MESSAGE(no_build, "desk.missing-build", EW_DANGER,
           "there is no build record: build, care and dispatch sheets stay empty");
EW_MESSAGE(no_pull, "desk.missing-pull", EW_DANGER, "there is no pull to report on");
EW_MESSAGE(no_serial, "desk.missing-serial", EW_CAUTION,
           "the engine has no serial number: its sheets cannot be told from another engine's");
EW_MESSAGE(no_owner, "desk.missing-owner", EW_CAUTION, "the engine's owner is not stated");
EW_MESSAGE(no_equipment, "desk.missing-equipment", EW_CAUTION,
           "the equipment fitted for the test is not stated");
EW_MESSAGE(no_fuel, "desk.missing-fuel", EW_CAUTION,
           "the fuel the engine is set for is not stated");
EW_MESSAGE(no_shop, "desk.missing-shop", EW_CAUTION,
           "the shop's name is not set: it heads every sheet");
EW_MESSAGE(no_terms, "desk.missing-terms", EW_CAUTION, "the shop's terms are not set");
EW_MESSAGE(no_calibration, "desk.missing-calibration", EW_CAUTION, "{what}");

/* Takes the message. */
static void add(GArray *list, gboolean grave, const char *about, ew_message *what) {
  g_assert(what && about);
  struct ew_missing one = {grave, g_strdup(about), ew_message_about(what, about)};
  g_array_append_val(list, one);
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
    add(list, TRUE, "build", ew_message_plain(&no_build));
  for (guint i = 0; open && i < open->len; i++)
    add(list, TRUE, "checklist", ew_message_copy(open->pdata[i]));
  return TRUE;
}

static gboolean add_findings(GArray *list, struct ew_desk *desk, const struct ew_bench_build *b,
                             GError **error) {
  struct ew_build_result result;
  if (!ew_build_result_of(desk, b->engine_id, &result, error))
    return FALSE;
  g_autoptr(GPtrArray) findings = ew_build_check(b->build, &b->engine, &result);
  for (guint i = 0; i < findings->len; i++) {
    const ew_message *f = findings->pdata[i];
    enum ew_severity severity = ew_message_severity(f);
    if (severity != EW_NOTE)
      add(list, severity == EW_DANGER, ew_message_subject(f), ew_message_copy(f));
  }
  if (result.pulls == 0)
    add(list, TRUE, "pulls", ew_message_plain(&no_pull));
  return TRUE;
}

/* An engine is not handed over with a trip that nobody looked into. */
static void add_trips(GArray *list, struct ew_book *book, gint64 engine_id) {
  g_autoptr(GPtrArray) open = ew_trips_open(book, engine_id);
  for (guint i = 0; i < open->len; i++)
    add(list, TRUE, "trip", ew_message_copy(open->pdata[i]));
}

static gboolean add_facts(GArray *list, struct ew_book *book, const struct ew_engine *e,
                          GError **error) {
  const struct {
    const char *value, *about;
    const struct ew_message_kind *what;
  } facts[] = {{e->serial, "serial", &no_serial},
               {e->owner, "owner", &no_owner},
               {e->equipment, "equipment", &no_equipment},
               {e->fuel, "fuel", &no_fuel}};
  for (gsize i = 0; i < G_N_ELEMENTS(facts); i++)
    if (!facts[i].value || !*facts[i].value)
      add(list, FALSE, facts[i].about, ew_message_plain(facts[i].what));
  g_autofree char *shop = NULL, *terms = NULL;
  g_autoptr(ew_message) overdue = NULL;
  if (!ew_setting_get(book, "shop", &shop, error) ||
      !ew_setting_get(book, "terms", &terms, error) ||
      !ew_calibration_overdue(book, &overdue, error))
    return FALSE;
  if (!shop || !*shop)
    add(list, FALSE, "shop", ew_message_plain(&no_shop));
  if (!terms || !*terms)
    add(list, FALSE, "terms", ew_message_plain(&no_terms));
  if (overdue)
    add(list, FALSE, "calibration", ew_message(&no_calibration, ew_say_message("what", overdue)));
  return TRUE;
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
  good = good && add_facts(list, desk->book, &b.engine, error);
  ew_bench_build_clear(&b);
  if (!good)
    return g_array_unref(list), NULL;
  g_array_sort(list, by_gravity); /* merge sort: equals keep their order */
  return list;
}
