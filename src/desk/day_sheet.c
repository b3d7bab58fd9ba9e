/* Gathers a day: pulls with what changed before each, answers, notes, marks and alarms in the order of time. A
 * question belongs to the day when it was asked on it, or later about its pulls alone. */
#include "desk/question.h"
#include "desk/day_sheet.h"
#include "base/error.h"
#include "base/language.h"
#include "base/number.h"
#include "base/words.h"
#include "book/note.h"
#include "book/store.h"
#include "book/stream.h"
#include "desk/attach.h"
#include "desk/behind.h"
#include "desk/trip.h"
#include "sheet/day_sheet.h"
#include <math.h>
#include <string.h>

static void add(GPtrArray *cells, char *text) {
  g_ptr_array_add(cells, text ? text : g_strdup(""));
}

/* "16:50" of an instant, by the shop's clock. */
static char *clock_text(struct ew_book *book, const char *instant) {
  GTimeZone *zone = ew_book_zone(book, NULL);
  g_autofree char *shown = zone ? ew_zone_show(zone, instant) : NULL;
  return shown && strlen(shown) > 15 ? g_strndup(shown + 11, 5) : g_strdup("");
}

static char *changes_text(const struct ew_pull_row *row, const char *before,
                          enum ew_unit_system units) {
  struct ew_setup old, now;
  g_autoptr(GPtrArray) list = NULL;
  if (before && ew_record_from_yaml(&ew_setup_fields, "set-up", before, &old, NULL)) {
    if (ew_record_from_yaml(&ew_setup_fields, "set-up", row->setup, &now, NULL)) {
      g_autoptr(GPtrArray) changes = ew_setup_changes(&old, &now);
      list = ew_messages_texts(changes, units);
      ew_setup_clear(&now);
    }
    ew_setup_clear(&old);
  }
  if (!list)
    list = g_ptr_array_new_with_free_func(g_free);
  if (row->changed)
    g_ptr_array_insert(list, 0, g_strdup(row->changed));
  if (row->discarded)
    g_ptr_array_insert(list, 0, ew_words("set aside: %s", row->discarded));
  if (row->tripped)
    g_ptr_array_insert(list, 0, ew_words("tripped: %s", row->tripped));
  g_ptr_array_add(list, NULL);
  return g_strdelimit(g_strjoinv("; ", (char **)list->pdata), "_", ' ');
}

static void add_pulls(GPtrArray *cells, struct ew_book *book, const GArray *rows, const char *day,
                      enum ew_unit_system units) {
  const char *before = NULL;
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (strcmp(row->day, day) == 0) {
      char buffer[EW_NUMBER_SIZE];
      add(cells, g_strdup_printf("%" G_GINT64_FORMAT, row->id));
      add(cells, clock_text(book, row->at));
      add(cells, g_strdup(ew_tr(row->purpose)));
      add(cells, isnan(row->top_rpm) ? NULL : ew_number_thousands(round(row->top_rpm / 10) * 10));
      add(cells, isnan(row->band_mean_n_m)
                     ? NULL
                     : g_strdup(ew_number_shown(ew_shown(EW_KIND_TORQUE, units, row->band_mean_n_m),
                                                1, buffer)));
      add(cells, changes_text(row, before, units));
    }
    before = row->setup;
  }
}

static gint by_time(gconstpointer a, gconstpointer b) {
  return strcmp(((char *const *)a)[0], ((char *const *)b)[0]);
}

/* Every alarm of the day, with what was found. */
static void add_trips(GArray *lines, struct ew_book *book, const char *day) {
  g_autoptr(GArray) trips = ew_trip_list(book, NULL);
  for (guint i = 0; i < trips->len; i++) {
    const struct ew_trip_row *t = &g_array_index(trips, struct ew_trip_row, i);
    if (!ew_book_is_day(book, t->at, day))
      continue;
    char *line[] = {g_strdup(t->at), ew_trip_text(t), g_strdup(ew_tr("alarm"))};
    g_array_append_val(lines, line);
  }
}

/* Notes that were not withdrawn, marks of a person, and alarms, in the order of time. */
static void add_notes(GPtrArray *cells, struct ew_book *book, const char *day) {
  g_autoptr(GArray) notes = ew_note_list(book, day, NULL);
  g_autoptr(GArray) streams = ew_stream_list(book, NULL);
  g_autoptr(GArray) lines = g_array_new(FALSE, FALSE, sizeof(char *[EW_DAY_NOTE_CELLS]));
  for (guint i = 0; notes && i < notes->len; i++) {
    const struct ew_note_row *n = &g_array_index(notes, struct ew_note_row, i);
    char *line[] = {g_strdup(n->at), g_strdup(n->text), g_strdup(n->who)};
    if (!n->withdrawn)
      g_array_append_val(lines, line);
    else
      for (int k = 0; k < EW_DAY_NOTE_CELLS; k++)
        g_free(line[k]);
  }
  for (guint i = 0; streams && i < streams->len; i++) {
    gint64 id = g_array_index(streams, struct ew_stream_row, i).id;
    g_autoptr(GArray) marks = ew_mark_list(book, id, NULL);
    for (guint k = 0; marks && k < marks->len; k++) {
      const struct ew_mark_row *m = &g_array_index(marks, struct ew_mark_row, k);
      char *line[] = {g_strdup(m->at), g_strdup(m->text), g_strdup(ew_tr("mark"))};
      if (ew_book_is_day(book, m->at, day) && !ew_mark_is_calibration(m))
        g_array_append_val(lines, line);
      else
        for (int c = 0; c < EW_DAY_NOTE_CELLS; c++)
          g_free(line[c]);
    }
  }
  add_trips(lines, book, day);
  g_array_sort(lines, by_time);
  const guint before = cells->len;
  for (guint i = 0; i < lines->len; i++) {
    char **line = (char **)(void *)(lines->data + i * sizeof(char *[EW_DAY_NOTE_CELLS]));
    add(cells, clock_text(book, line[0]));
    add(cells, line[1]);
    add(cells, line[2]);
    g_free(line[0]);
  }
  g_assert(cells->len == before + EW_DAY_NOTE_CELLS * lines->len);
}

/* Asked on that day, or later about its pulls alone. */
static void add_answers(GPtrArray *cells, struct ew_book *book, const GArray *rows, const char *day,
                        enum ew_unit_system units) {
  g_autoptr(GArray) answers = ew_verdict_list(book, 0, NULL);
  for (guint i = 0; i < answers->len; i++) {
    const struct ew_verdict_row *v = &g_array_index(answers, struct ew_verdict_row, i);
    if (!ew_answer_is_of_day(book, v, rows, day))
      continue;
    g_autoptr(ew_behind) behind = ew_behind_read(v);
    g_autoptr(GPtrArray) lines = ew_behind_texts(behind, units);
    g_ptr_array_add(lines, NULL);
    add(cells, ew_answer_line(v, units));
    add(cells, g_strjoinv("\n", (char **)lines->pdata));
  }
}

gboolean ew_make_day_sheet(struct ew_desk *desk, const struct ew_day_sheet_options *o,
                           GError **error) {
  struct ew_book *book = desk->book;
  g_autofree char *day = o->day ? g_strdup(o->day) : ew_desk_day(book, error);
  g_autoptr(GPtrArray) pulls = g_ptr_array_new_with_free_func(g_free),
                       notes = g_ptr_array_new_with_free_func(g_free),
                       answers = g_ptr_array_new_with_free_func(g_free);
  g_autoptr(GArray) rows = day ? ew_pull_list(book, 0, error) : NULL;
  struct ew_sheet_head head;
  if (!rows || !ew_sheet_head_read(book, &o->sheet, EW_TEXT("Day sheet"), FALSE, &head, error))
    return FALSE;
  g_autofree char *torque = ew_words("mean, %s", ew_kind_shown(EW_KIND_TORQUE, head.units)),
                  *date = ew_sheet_day(day), *zone = NULL;
  if (!ew_setting_get(book, "zone", &zone, error)) {
    ew_sheet_head_clear(&head);
    return FALSE;
  }
  g_autofree char *about = zone && *zone ? ew_words("%s, clock of %s", date, zone) : g_strdup(date);
  head.flow.about = about;
  struct ew_day_paper paper = {
      .head = head.flow, .torque_head = torque, .pulls = pulls, .notes = notes, .answers = answers};
  add_pulls(pulls, book, rows, day, head.units);
  add_notes(notes, book, day);
  add_answers(answers, book, rows, day, head.units);
  gboolean good = pulls->len || notes->len
                      ? ew_day_sheet_draw(&paper, o->sheet.path, o->sheet.format, head.paper, error)
                      : ew_refuse(error, "day: there is neither a pull nor a note on '%.40s'", day);
  ew_sheet_head_clear(&head);
  return good;
}
