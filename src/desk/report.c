/* Gathers a test report: chooses the pulls, or checks those that were named, fills the parts in the order of the sheet and has
 * it drawn. Reads the book and writes one file; the book stays as it is. */
#include "desk/alike.h"
#include "desk/report_parts.h"
#include "base/error.h"
#include "base/language.h"
#include "base/words.h"
#include <math.h>
#include <string.h>

/* What the day ended with. */
static gboolean choose_pulls(const struct ew_desk *desk, gint64 engine_id, GPtrArray **pulls,
                             GError **error) {
  GPtrArray *run = ew_desk_last_like(desk, engine_id, error);
  if (!run)
    return FALSE;
  g_ptr_array_unref(*pulls);
  *pulls = run;
  if (run->len)
    return TRUE;
  g_autoptr(GArray) rows = ew_pull_list(desk->book, engine_id, error);
  if (!rows)
    return FALSE;
  guint held = 0;
  for (guint i = 0; i < rows->len; i++)
    held += g_array_index(rows, struct ew_pull_row, i).held != NULL;
  if (held)
    return ew_refuse(error,
                     "there is no pull to report on: pulls held with an open question: %u; 'pull "
                     "list' shows them, and 'pull right' or 'pull amend' answers",
                     held);
  return rows->len ? ew_refuse(error, "there is no pull to report on: all of this engine were "
                                      "discarded, tripped, or run for heat or break-in; name those "
                                      "you want by number")
                   : ew_refuse_with(error, EW_REMEDY_ADD_PULL, "there is no pull to report on");
}

/* A report is of one engine: of the one the pulls were made with, which has to be the one asked for. Files and pulls
 * without an engine leave it as it is. */
static gboolean engine_of_pulls(const GPtrArray *pulls, const char *asked, gint64 *id,
                                GError **error) {
  gint64 found = 0, first = 0;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    if (!l->row.engine_id || l->row.engine_id == found)
      continue;
    if (found)
      return ew_refuse(error,
                       "pulls: pull %" G_GINT64_FORMAT " and pull %" G_GINT64_FORMAT
                       " are of different engines: a report covers one",
                       first, l->id);
    if (asked && l->row.engine_id != *id)
      return ew_refuse(error, "pulls: pull %" G_GINT64_FORMAT " is not of engine '%s'", l->id,
                       asked);
    found = l->row.engine_id;
    first = l->id;
  }
  *id = found ? found : *id;
  return TRUE;
}

static void relabel(char **text, enum ew_labels labels) {
  char *put = ew_labels_put(*text, labels);
  g_free(*text);
  *text = put;
}

/* The reason, and what was found, are somebody's own words. */
static gboolean is_typed(const ew_message *m) {
  return ew_message_is(m, &ew_report_discarded) || ew_message_is(m, &ew_report_tripped) ||
         ew_message_is(m, &ew_report_tripped_named) ||
         ew_message_is(m, &ew_report_tripped_between) || ew_message_is(m, &ew_report_amended);
}

/* A caution and a result begin with a capital; what was changed and asked is a list of remarks. */
static char *line_of(const struct ew_report *r, const ew_message *m, gboolean remark) {
  g_autofree char *text = ew_message_text(m, r->units);
  GString *line = g_string_new(NULL);
  if (*text && !remark)
    g_string_append_unichar(line, g_unichar_toupper(g_utf8_get_char(text)));
  else if (*text)
    g_string_append_unichar(line, g_utf8_get_char(text));
  g_string_append(line, *text ? g_utf8_next_char(text) : "");
  char *whole = g_string_free(line, FALSE);
  if (!remark && !is_typed(m))
    relabel(&whole, r->head.labels);
  return whole;
}

/* Results, changes and cautions as the sheet shows them: texts in this thread's language, the first letter a capital. */
static void say_lines(struct ew_report *r) {
  GPtrArray **lists[] = {&r->results, &r->changes, &r->cautions, &r->notices, &r->found};
  for (gsize k = 0; k < G_N_ELEMENTS(lists); k++) {
    g_assert(*lists[k]);
    g_autoptr(GPtrArray) messages = *lists[k];
    *lists[k] = g_ptr_array_new_with_free_func(g_free);
    for (guint i = 0; i < messages->len; i++)
      g_ptr_array_add(*lists[k], line_of(r, messages->pdata[i], k == 1));
  }
}

static gboolean fill_digests(struct ew_report *r, const struct ew_desk *desk,
                             const GPtrArray *pulls, GError **error) {
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    struct ew_recording_row row;
    if (!ew_recording_facts(desk->book, l->row.recording_id, &row, error))
      return FALSE;
    g_ptr_array_add(r->digests,
                    ew_words("pull %" G_GINT64_FORMAT "  %s  %s", l->id, row.sha256, row.name));
    ew_recording_row_clear(&row);
  }
  g_assert(r->digests->len == pulls->len);
  return TRUE;
}

/* What the program says of the test; names, remarks and what somebody typed stay as they are. Only English differs. */
static void put_labels(struct ew_report *r) {
  enum ew_labels labels = r->head.labels;
  if (labels == EW_LABELS_BRITISH)
    return;
  for (guint i = 0; i < r->facts->len; i++) {
    struct ew_report_pair *pair = &g_array_index(r->facts, struct ew_report_pair, i);
    if (!ew_pair_is_typed(pair->label))
      relabel(&pair->value, labels);
    relabel(&pair->label, labels);
  }
  for (guint i = 0; i < r->budget->len; i++)
    relabel(&g_array_index(r->budget, struct ew_report_pair, i).label, labels);
}

EW_MESSAGE(same_recording, "desk.report-same-recording", EW_CAUTION,
           "pull {pull} is the same recording as pull {other}: it counts once.");

EW_MESSAGE(unlike, "desk.report-unlike", EW_CAUTION,
           "the mean is of pulls that are not alike: {differences}.");

/* The mean of a recording with itself is not a mean: each counts once. */
static void drop_same(struct ew_desk *desk, GPtrArray *pulls, GPtrArray *cautions) {
  g_autoptr(GHashTable) met = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < pulls->len;) {
    struct ew_loaded *l = g_ptr_array_index(pulls, i);
    const struct ew_loaded *before = g_hash_table_lookup(met, ew_desk_evidence(desk, l));
    if (!before) {
      g_hash_table_insert(met, l->evidence, l);
      i++;
      continue;
    }
    ew_messages_add(cautions, ew_message(&same_recording, ew_say_count("pull", l->id),
                                         ew_say_count("other", before->id)));
    g_ptr_array_remove_index(pulls, i);
  }
  g_assert(pulls->len > 0 || g_hash_table_size(met) == 0);
}

EW_MESSAGE(converted, "desk.report-converted", EW_CAUTION,
           "converted for this sheet: the book keeps these pulls by {kept}");

/* The same pulls by another factor: computed again from raw, and nothing is stored. */
static gboolean convert(struct ew_desk *desk, const char *standard, GPtrArray *pulls,
                        GPtrArray *cautions, GError **error) {
  enum ew_standard wanted;
  if (!standard)
    return TRUE;
  if (!ew_standard_find(standard, &wanted))
    return ew_refuse(error, "standard: '%.40s' is not known; 'air standards' lists them", standard);
  const struct ew_loaded *last = g_ptr_array_index(pulls, pulls->len - 1);
  enum ew_standard kept = last->curve->method.standard;
  g_autoptr(GString) ids = g_string_new(NULL);
  for (guint i = 0; i < pulls->len; i++)
    g_string_append_printf(ids, "%s%" G_GINT64_FORMAT, i ? "," : "",
                           ((const struct ew_loaded *)g_ptr_array_index(pulls, i))->id);
  desk->given.standard = TRUE;
  desk->method.standard = wanted;
  g_ptr_array_set_size(pulls, 0);
  g_assert(ids->len > 0);
  gboolean good = ew_desk_load(desk, ids->str, pulls, error);
  desk->given.standard = FALSE;
  if (good && kept != wanted)
    ew_messages_add(cautions,
                    ew_message(&converted, ew_say_term("kept", ew_standard_titles[kept])));
  return good;
}

static struct ew_report report_begin(const struct ew_report_options *o,
                                     const struct ew_sheet_head *head) {
  return (struct ew_report){.head = head->flow,
                            .units = head->units,
                            .reader = o->reader,
                            .columns = o->columns,
                            .facts = g_array_new(FALSE, FALSE, sizeof(struct ew_report_pair)),
                            .budget = g_array_new(FALSE, FALSE, sizeof(struct ew_report_pair)),
                            .promises = g_array_new(FALSE, FALSE, sizeof(struct ew_report_promise)),
                            .curves = g_ptr_array_new(),
                            .results = ew_messages_new(),
                            .changes = ew_messages_new(),
                            .cautions = ew_messages_new(),
                            .notices = ew_messages_new(),
                            .found = ew_messages_new(),
                            .digests = g_ptr_array_new_with_free_func(g_free)};
}

/* Everything but the pictures; `same`: cautions that choosing the pulls gave. */
static gboolean fill(struct ew_report *r, struct ew_desk *desk, const struct ew_engine_row *engine,
                     const GPtrArray *pulls, const GPtrArray *same, GError **error) {
  g_assert(pulls->len > 0);
  const struct ew_loaded *last = g_ptr_array_index(pulls, pulls->len - 1);
  for (guint i = 0; i < pulls->len; i++)
    g_ptr_array_add(r->curves, ((struct ew_loaded *)g_ptr_array_index(pulls, i))->curve);
  r->stoichiometric_ratio = ew_stoichiometric_of(&last->engine, &last->setup);
  ew_report_facts(r, desk, pulls);
  struct ew_report_peaks peaks = ew_report_results(r, desk, pulls);
  ew_report_changes(r, desk, engine->id, pulls);
  ew_messages_copy(same, r->cautions);
  g_autofree char *name = engine->id ? g_strdup_printf("%" G_GINT64_FORMAT, engine->id) : NULL;
  if (!ew_report_cautions(r, desk, pulls, error) || !fill_digests(r, desk, pulls, error) ||
      !ew_report_promises(r, desk, name, &peaks, pulls, error) ||
      !ew_report_columns_check(r, error))
    return FALSE;
  ew_report_notices(r);
  return TRUE;
}

gboolean ew_make_report(struct ew_desk *desk, const struct ew_report_options *o, GError **error) {
  struct ew_engine_row engine;
  if (!(o->engine ? ew_engine_get : ew_engine_find)(desk->book, o->engine, &engine, error))
    return FALSE;
  g_autoptr(GPtrArray) pulls = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  gboolean good = o->pulls ? ew_desk_load(desk, o->pulls, pulls, error) &&
                                 engine_of_pulls(pulls, o->engine, &engine.id, error)
                           : choose_pulls(desk, engine.id, &pulls, error);
  g_autoptr(GPtrArray) same = ew_messages_new();
  struct ew_sheet_head head;
  if (good)
    drop_same(desk, pulls, same);
  good = good && convert(desk, o->standard, pulls, same, error);
  g_autoptr(GPtrArray) despite = ew_messages_new();
  good = good && ew_desk_all_alike(pulls, EW_ALIKE_SIDE, o->despite, despite, NULL, NULL, error);
  if (despite->len)
    ew_messages_add(same, ew_message(&unlike, ew_say_messages("differences", despite)));
  good =
      good && ew_sheet_head_read(desk->book, &o->sheet, EW_TEXT("Test report"), TRUE, &head, error);
  if (good) {
    struct ew_report r = report_begin(o, &head);
    good = fill(&r, desk, &engine, pulls, same, error);
    put_labels(&r);
    say_lines(&r);
    good = good && ew_report_photos(&r, desk->book, o->photos, error) &&
           ew_report_draw(&r, o->sheet.path, o->sheet.format, head.paper, error);
    g_clear_pointer(&r.photos, g_array_unref);
    ew_report_clear(&r);
    ew_sheet_head_clear(&head);
  }
  ew_engine_row_clear(&engine);
  return good;
}
