/* Gathers one sheet of a build: record, findings, what is due, growth learned, attachments by their digests. Reads
 * the book, writes one file. */
#include "desk/build_sheet.h"
#include "desk/proved.h"
#include "base/words.h"

static GPtrArray *attachment_texts(struct ew_book *book, gint64 build_id) {
  GPtrArray *texts = g_ptr_array_new_with_free_func(g_free);
  const struct ew_owner owner = {EW_OWNER_BUILD, build_id, NULL};
  g_autoptr(GArray) rows = ew_attachment_list(book, &owner, FALSE, NULL);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_attachment_row *r = &g_array_index(rows, struct ew_attachment_row, i);
    g_ptr_array_add(texts, ew_words("%s, %.0f kB, SHA-256 %s%s%s", r->name, (double)r->bytes / 1024,
                                    r->sha256, r->note ? ": " : "", r->note ? r->note : ""));
  }
  return texts;
}

static gboolean draw(struct ew_desk *desk, struct ew_bench_build *bench,
                     const struct ew_build_sheet_options *o, GError **error) {
  struct ew_book *book = desk->book;
  struct ew_build_result result;
  struct ew_ledger ledger;
  if (!ew_build_result_of(desk, bench->engine_id, &result, error) ||
      !ew_ledger_read(book, bench->engine_id, &ledger, error))
    return FALSE;
  const struct ew_build_facts *facts = ew_build_facts_of(bench->build);
  struct ew_sheet_head head;
  gboolean customer = o->kind == EW_SHEET_build || o->kind == EW_SHEET_care;
  if (!ew_sheet_head_read(book, &o->sheet, ew_build_sheet_titles[o->kind], customer, &head, error))
    return FALSE;
  const char *serial = bench->engine.serial; /* said once, when the build is named after it */
  if (serial && facts->build && g_str_has_prefix(facts->build, serial))
    serial = NULL;
  g_autofree char *about =
      g_strdup_printf("%s%s%s%s%s", bench->engine_name, serial ? ", " : "", serial ? serial : "",
                      facts->build ? ": " : "", facts->build ? facts->build : "");
  head.flow.about = about;
  struct ew_proved proved = {0};
  if (o->kind == EW_SHEET_care &&
      !ew_proved_read(desk, bench->engine_id, head.units, &proved, error)) {
    ew_sheet_head_clear(&head);
    return FALSE;
  }
  g_autoptr(GPtrArray) attachments = attachment_texts(book, bench->build->id);
  struct ew_build_paper p = {.head = head.flow,
                             .units = head.units,
                             .engine = &bench->engine,
                             .build = bench->build,
                             .result = &result,
                             .proved = proved.pairs,
                             .proved_notes = proved.notes,
                             .attachments = attachments,
                             .running_s = ledger.running_s + ew_build_told_s(bench->build, NULL)};
  for (int side = 0; side < 2; side++)
    p.growth[side] = ew_build_growth(book, facts, bench->build->id, side, NULL);
  p.lines = ew_build_lines(bench->build, &bench->engine);
  p.findings = ew_build_check(bench->build, &bench->engine, &result);
  p.due = ew_build_due_list(bench->build, ledger.running_s, ledger.above_s, EW_LEDGER_SPEEDS);
  g_assert(p.lines && p.findings && p.due);
  gboolean good =
      ew_build_sheet_draw(o->kind, &p, o->sheet.path, o->sheet.format, head.paper, error);
  ew_proved_clear(&proved);
  ew_sheet_head_clear(&head);
  g_array_unref(p.lines);
  g_ptr_array_unref(p.findings);
  g_array_unref(p.due);
  return good;
}

gboolean ew_make_build_sheet(struct ew_desk *desk, const struct ew_build_sheet_options *options,
                             GError **error) {
  struct ew_bench_build bench;
  if (!ew_bench_build_open(desk->book, options->engine, FALSE, &bench, error))
    return FALSE;
  gboolean good = draw(desk, &bench, options, error);
  ew_bench_build_clear(&bench);
  return good;
}
