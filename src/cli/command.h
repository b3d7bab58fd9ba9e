/* Commands: each is described once, in a struct beside its code; parsing, help, completion and the
 * man page all come from that description. Its texts are marked EW_TEXT and put into the reader's language where they are
 * printed. */
#pragma once
#include "base/error.h"
#include "base/json_writer.h"
#include "base/language.h"
#include "base/progress.h"
#include "base/units.h"
#include "desk/loaded.h"

struct ew_option_spec {
  const char *name;  /* without dashes; NULL ends the list */
  const char *value; /* what stands after it, "FILE"; NULL: a switch */
  const char *help;
  gboolean many; /* takes all words up to the next option */
};

struct ew_call {
  const struct ew_command *command;
  GPtrArray *arguments; /* char* */
  GPtrArray *names;     /* char*, names of options in order */
  GPtrArray *values;    /* char*, NULL for a switch */
  gboolean json;
  enum ew_unit_system units;
};

struct ew_command {
  const char *name;    /* "pull add" */
  const char *summary; /* one line */
  const char *takes;   /* "FILE", "" */
  int least, most;     /* arguments; most -1: any number */
  const struct ew_option_spec *options;
  const char
      *examples; /* one a line, without the program's name; marked EW_TEXT where they hold prose */
  const char *more; /* a paragraph of help, or NULL */
  gboolean (*run)(const struct ew_call *call, GError **error);
  gboolean prints_text; /* it prints a file, or text to read: there is no answer in JSON */
};

/* The last value given for an option; NULL when it was not given ("" for a switch). */
const char *ew_call_option(const struct ew_call *call, const char *name);
/* --despite: what pulls may differ in on purpose (judge/comparable.h); 0 without it. */
gboolean ew_call_despite(const struct ew_call *call, guint *despite, GError **error);
gboolean ew_call_has(const struct ew_call *call, const char *name);
/* All values of an option, NULL-terminated; free the array, not the texts. */
const char **ew_call_options(const struct ew_call *call, const char *name);
/* A quantity given by an option; `otherwise` when it was not given. */
gboolean ew_call_quantity(const struct ew_call *call, const char *name, enum ew_kind kind,
                          double otherwise, double *value, GError **error);
const char *ew_call_argument(const struct ew_call *call, guint index);

/* The book named by --book, or the usual one. With `needed` FALSE a missing book gives NULL, no error. */
struct ew_book *ew_call_book(const struct ew_call *call, gboolean create, gboolean needed,
                             GError **error);
/* Text is printed in the book's units when the call asks for none; ew_call_book sees to it. */
gboolean ew_call_follow_book(struct ew_book *book, GError **error);
/* Can a file be written there? Refuses a folder, and a file in a folder that is not there. */
gboolean ew_call_place(const char *path, GError **error);
/* Desk with the book, and with what --engine-file, --set, --standard, --map and the like say. */
gboolean ew_call_desk(const struct ew_call *call, struct ew_book *book, struct ew_desk *desk,
                      GError **error);
/* The same, with the book that --book names or the usual one; `book` stays NULL when there is none. */
gboolean ew_call_open_desk(const struct ew_call *call, struct ew_book **book, struct ew_desk *desk,
                           GError **error);
/* Whether an answer is kept in the book and counted as a look: not with --no-keep, nor at a copy of what a shop holds, which is said.
 * book: may be NULL. */
gboolean ew_call_keeps(const struct ew_call *call, const struct ew_book *book);
/* Options that ew_call_desk reads. */
#define EW_DESK_OPTIONS                                                                            \
  {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book (the usual one if left out)"), FALSE},        \
      {"standard", EW_TEXT("NAME"), EW_TEXT("correction factor ('air standards' lists them)"),     \
       FALSE},                                                                                     \
      {"method", EW_TEXT("FILE"), EW_TEXT("method in YAML"), FALSE},                               \
      {"map", EW_TEXT("FILE"), EW_TEXT("channel map in YAML"), FALSE},                             \
      {"set", EW_TEXT("NAME=VALUE"), EW_TEXT("part of the set-up or weather; may be repeated"),    \
       FALSE},                                                                                     \
      {"cell-file", EW_TEXT("FILE"), EW_TEXT("cell in YAML: inertias, limits, uncertainties"),     \
       FALSE},                                                                                     \
  {                                                                                                \
    "engine-file", EW_TEXT("FILE"), EW_TEXT("engine in YAML"), FALSE                               \
  }

/* Answer in JSON: begin, fill, print. */
struct ew_json ew_answer_begin(void);
void ew_answer_end(struct ew_json *json);
/* The whole answer is a list: in JSON under `key`, each row by `write`; else a line for each by `say`. */
void ew_answer_rows(const struct ew_call *call, const char *key, const GArray *rows,
                    ew_json_row write, void (*say)(const void *row));
/* A line of plain text. */
void ew_say(const char *format, ...) G_GNUC_PRINTF(1, 2);
/* Shows a share as "37 %" on the terminal, and takes it away at 1 or before any other line; NULL when standard error is
 * not a terminal. */
ew_progress ew_call_progress(void);
void ew_call_end_progress(void); /* what stands on the terminal is taken away */
/* Cautions, a line each, with what to do where the command line can. */
void ew_say_cautions(const GPtrArray *messages, enum ew_unit_system units);

extern const struct ew_command *const ew_commands[]; /* NULL-terminated */
int ew_main(int argc, char **argv);
/* The program as it was called, for commands that are to be typed next. */
const char *ew_called_as(void);
