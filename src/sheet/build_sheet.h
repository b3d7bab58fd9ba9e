/* The sheets of a build. Each draws what it is handed and reads no book. */
#pragma once
#include "base/language.h"
#include "base/units.h"
#include "build/check.h"
#include "build/due.h"
#include "build/lash.h"
#include "sheet/flow.h"

/* name of the command and function, title of the sheet, what it is for */
#define EW_BUILD_SHEETS(X)                                                                         \
  X(build, EW_TEXT("Build sheet"),                                                                 \
    EW_TEXT("The build as agreed, measured, fitted and ticked off"))                               \
  X(lash, EW_TEXT("Lash sheet"),                                                                   \
    EW_TEXT("For the bench: crank positions, what to set, boxes to write into"))                   \
  X(degree, EW_TEXT("Degree-in sheet"),                                                            \
    EW_TEXT("Worksheet for the cam: two methods and the correction to make"))                      \
  X(care, EW_TEXT("Care sheet"), EW_TEXT("For the customer: limits, settings, what is due when"))  \
  X(dispatch, EW_TEXT("Dispatch list"), EW_TEXT("What is checked before the engine leaves"))       \
  X(valves, EW_TEXT("Valve events"),                                                               \
    EW_TEXT("Valve-event diagram, lift and valve-to-piston clearance"))

enum ew_build_sheet_kind {
#define X(name, title, about) EW_SHEET_##name,
  EW_BUILD_SHEETS(X)
#undef X
      EW_BUILD_SHEETS_COUNT
};
extern const char *const ew_build_sheet_titles[]; /* English: shown through ew_tr() */

struct ew_build_paper {
  struct ew_flow_head head;
  enum ew_unit_system units;
  const struct ew_engine *engine;
  const struct ew_build *build;
  const struct ew_build_result *result;
  struct ew_growth growth[2];    /* inlet, exhaust; of like builds */
  GArray *lines;                 /* ew_build_lines */
  GPtrArray *findings;           /* ew_build_check */
  GArray *due;                   /* ew_build_due_list */
  double running_s;              /* recorded and reported */
  const GPtrArray *proved;       /* care sheet: label and value, char*; what it was proved with */
  const GPtrArray *proved_notes; /* char*: by which pulls, and what the reader must know of them */
  const GPtrArray *attachments;  /* of char*: name and digest */
};

gboolean ew_build_sheet_draw(enum ew_build_sheet_kind kind, const struct ew_build_paper *paper,
                             const char *path, enum ew_format format, enum ew_paper size,
                             GError **error);

/* Private to the files of the build sheets. */
void ew_sheet_draw_build(struct ew_flow *flow, const struct ew_build_paper *paper);
void ew_sheet_draw_lash(struct ew_flow *flow, const struct ew_build_paper *paper);
void ew_sheet_draw_degree(struct ew_flow *flow, const struct ew_build_paper *paper);
void ew_sheet_draw_care(struct ew_flow *flow, const struct ew_build_paper *paper);
void ew_sheet_draw_dispatch(struct ew_flow *flow, const struct ew_build_paper *paper);
void ew_sheet_draw_valves(struct ew_flow *flow, const struct ew_build_paper *paper);
/* "0.40 mm", or a dash for NaN. */
char *ew_sheet_length(const struct ew_build_paper *paper, double value_m);
/* Appends texts to a list of owned cells; each argument char*, ended by EW_END. */
#define EW_END ((const char *)-1)
void ew_sheet_cells(GPtrArray *cells, ...);
