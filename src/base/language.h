/* The reader's language: texts put into it, and figures written as it writes them.
 *
 * The program's own texts are English and are their own keys (GNU gettext's msgids). Other languages are GNU .mo
 * catalogues (gettext manual, "The Format of GNU MO Files"), made by msgfmt from po/LANGUAGE/ and embedded in the program.
 * They are read here and not by libintl: one process answers readers of several languages at once, on several threads,
 * and on machines where no locale but C is installed; libintl can do neither.
 *
 * Each thread has a language of its own: that of the process until it takes another. Only the edge takes one: a command,
 * a request, a sheet. Nothing that is stored, compared or digested goes through here. */
#pragma once
#include <gio/gio.h>

typedef struct ew_language ew_language;

/* English: every text stays as it is. */
const ew_language *ew_language_english(void);
/* "de", "de_DE.UTF-8", "en-GB", "C"; "" and NULL: English. Or the path of a .mo file, for whoever writes a
 * translation. Refuses what is not there and lists what is. What it gives lives as long as the process. */
const ew_language *ew_language_find(const char *name, GError **error);
/* What LANGUAGE, LC_ALL, LC_MESSAGES and LANG ask for, in the order of the gettext manual; English when nothing
 * that is here was asked for. */
const ew_language *ew_language_of_environment(void);
/* The first of an Accept-Language (RFC 9110, 12.5.4) that is here; `otherwise` when none is. */
const ew_language *ew_language_accepted(const char *header, const ew_language *otherwise);
/* The languages that are here, English first: codes, NULL-terminated, static. */
const char *const *ew_language_codes(void);

void ew_language_of_process(const ew_language *language);
/* NULL: back to the process's. Gives the former, so that a call can be undone. */
const ew_language *ew_language_of_thread(const ew_language *language);
const ew_language *ew_language_now(void);

const char *ew_language_code(const ew_language *language); /* "en", "de"; a BCP 47 tag for lang= */
gboolean ew_language_is_english(void);                     /* of this thread */

/* The text in this thread's language, or itself. Lives as long as the process or `english`. O(log texts). */
const char *ew_tr(const char *english);
/* The same for a word that has several meanings: `context` says which ("verdict"). */
const char *ew_tr_in(const char *context, const char *english);
/* One or many: the form for `n` by the catalogue's own rule. */
const char *ew_tr_many(const char *one, const char *many, guint64 n);
/* Marks a text of a table for the catalogue; it is put into the reader's language where it is shown. */
#define EW_TEXT(english) english

/* Each text of the catalogue with its translation, for the page; `context` (NULL: none) and `english` as msgctxt and
 * msgid, `many` the second plural form or NULL. */
typedef void (*ew_language_entry)(const char *context, const char *english, const char *text,
                                  const char *many, gpointer user);
void ew_language_each(const ew_language *language, ew_language_entry each, gpointer user);

/* How this thread's language writes figures: "." and "," in English, "," and "." in German. */
char ew_language_decimal(void);
const char *ew_language_thousands(void);
/* strftime pattern of a day and of a clock with minutes: "%Y-%m-%d", "%d.%m.%Y". */
const char *ew_language_day_pattern(void);
