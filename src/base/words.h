/* Sentences with figures. As printf, but a figure that is not finite never passes for a number: "-" stands in its
 * place, as wide as the figure would have been. Whoever can have such a figure says in words what it means ("not
 * known", "no more than"); this is the floor under those who forgot.
 *
 * The format is the English text: it is looked up in the catalogue of the thread's language (base/language.h), and
 * figures are written as that language writes them. What a program reads again (a key, a setting, a file) is written
 * by ew_exact, which does neither.
 *
 * Every sentence with a floating conversion in this program goes through here (tests/scenario/figures.py looks). */
#pragma once
#include <glib.h>
#include <stdarg.h>

/* "%#.0f" marks thousands as the language does: "7,000"; widths count columns of a terminal, not bytes. */
char *ew_words(const char *format, ...) G_GNUC_PRINTF(1, 2);
/* Numbered arguments ("%1$s") and long doubles are not taken. */
char *ew_words_v(const char *format, va_list arguments) G_GNUC_PRINTF(1, 0);
void ew_words_append(GString *text, const char *format, ...) G_GNUC_PRINTF(2, 3);
/* The same in every language, never translated: for whatever is read by a program. */
char *ew_exact(const char *format, ...) G_GNUC_PRINTF(1, 2);
/* How many columns of a terminal a text takes. What is not UTF-8 takes one a byte. O(length). */
int ew_columns(const char *text);
