/* Findings and remarks as facts: an identifier, typed arguments, a severity, a subject. They are stored, compared, counted
 * and digested as that; a sentence is made of them at the edge only, in the reader's language and units.
 *
 * A kind of message is declared beside the code that finds it:
 *
 *     EW_MESSAGE(window_missed, "judge.window-missed", EW_CAUTION,
 *                "{what} differs by {difference} (window ±{window}); the interval is wider for it");
 *     ew_messages_add(list, ew_message(&window_missed, ew_say_word("what", &oil_at_start),
 *                                      ew_say_change("difference", kind, gap, 1), ...));
 *
 * The identifier is "room.what" and never changes its meaning: books keep it. The text may be reworded at any time. A
 * word that is itself ours ("oil at the start") is a message without arguments; a word of somebody else's is a text. */
#pragma once
#include "base/json_writer.h"
#include "base/units.h"

enum ew_severity { EW_NOTE, EW_CAUTION, EW_DANGER, EW_SEVERITIES_COUNT };
extern const char *const ew_severity_keys[EW_SEVERITIES_COUNT];  /* "note", "caution", "danger" */
extern const char *const ew_severity_words[EW_SEVERITIES_COUNT]; /* EW_TEXT: the same for people */

struct ew_message_kind {
  const char *id;
  enum ew_severity severity;
  const char *text; /* English, with {name} for each argument; "{{" is a brace */
  const char
      *many; /* for any count but 1 of its first counted argument; NULL: `text` does for all */
};

/* Every kind declared so is known by its identifier. Two of one identifier are a mistake of this program. */
#define EW_MESSAGE_OF(storage, name, ...)                                                          \
  storage const struct ew_message_kind name = {__VA_ARGS__};                                       \
  static const struct ew_message_kind *const name##_listed                                         \
      __attribute__((section("ew_messages"), used)) = &name
#define EW_MESSAGE(name, id, severity, text) EW_MESSAGE_OF(static, name, id, severity, text, NULL)
#define EW_MESSAGE_MANY(name, id, severity, one, many)                                             \
  EW_MESSAGE_OF(static, name, id, severity, one, many)
/* The same for a kind that others look for: `extern const struct ew_message_kind name;` stands in a header. */
#define EW_MESSAGE_PUBLIC(name, id, severity, text) EW_MESSAGE_OF(, name, id, severity, text, NULL)
#define EW_MESSAGE_PUBLIC_MANY(name, id, severity, one, many)                                      \
  EW_MESSAGE_OF(, name, id, severity, one, many)

/* NULL: none is called so. */
const struct ew_message_kind *ew_message_kind_find(const char *id);
/* All of them, in order of their identifiers; the caller frees the array alone. */
GPtrArray *ew_message_kinds(void);

enum ew_argument_kind {
  EW_ARGUMENT_TEXT, /* somebody's words, or a name: shown as they are */
  EW_ARGUMENT_TERM, /* the same, but it may be one of ours ("oil pressure floor" of the alarms to start from):
                           in the reader's language where the catalogue has it */
  EW_ARGUMENT_WORD,     /* our own word or sentence: a message without arguments */
  EW_ARGUMENT_COUNT,    /* how many, or a number that names something: 3 */
  EW_ARGUMENT_FIGURE,   /* a pure figure: 0.95 */
  EW_ARGUMENT_SHARE,    /* relative, shown in per cent: 0.01 is 1 % */
  EW_ARGUMENT_QUANTITY, /* inside unit of `quantity`, shown in the reader's */
  EW_ARGUMENT_MESSAGE,  /* a whole message within this one */
  EW_ARGUMENT_MESSAGES, /* several, one after another with semicolons */
  EW_ARGUMENT_KINDS_COUNT
};

typedef struct ew_message ew_message;

struct ew_argument {
  const char *name; /* of the place in the text; NULL ends a list */
  enum ew_argument_kind kind;
  enum ew_kind quantity;
  int decimals;  /* in metric units; in others as many as keep the figure as fine */
  gboolean sign; /* "+" is written before what is not negative */
  double figure; /* not finite: shown as "-" */
  gint64 count;
  const char *text;
  const struct ew_message_kind *word;
  const ew_message *message; /* of a text: what it is elsewhere; NULL: it is shown everywhere */
  const GPtrArray *messages;
};

/* Arguments. What they point to is copied into the message. */
struct ew_argument ew_say_text(const char *name, const char *text); /* NULL: "" */
/* Words that only this machine's person is shown; to all others `elsewhere` stands in their place. */
struct ew_argument ew_say_text_here(const char *name, const char *text,
                                    const ew_message *elsewhere);
struct ew_argument ew_say_term(const char *name, const char *term); /* NULL: "" */
struct ew_argument ew_say_word(const char *name, const struct ew_message_kind *word);
struct ew_argument ew_say_count(const char *name, gint64 count);
struct ew_argument ew_say_figure(const char *name, double figure, int decimals);
struct ew_argument ew_say_share(const char *name, double share, int decimals);
struct ew_argument ew_say_share_change(const char *name, double share, int decimals); /* signed */
struct ew_argument ew_say_quantity(const char *name, enum ew_kind kind, double inside,
                                   int decimals);
struct ew_argument ew_say_change(const char *name, enum ew_kind kind, double inside,
                                 int decimals); /* signed */
struct ew_argument ew_say_message(const char *name, const ew_message *message);
struct ew_argument ew_say_messages(const char *name, const GPtrArray *messages);

/* A message of a kind with all the arguments that its text names, in any order, and no others (asserted). */
#define ew_message(kind, ...)                                                                      \
  ew_message_new(kind, (const struct ew_argument[]){__VA_ARGS__, {.name = NULL}})
ew_message *ew_message_plain(const struct ew_message_kind *kind);
ew_message *ew_message_new(const struct ew_message_kind *kind, const struct ew_argument *arguments);
ew_message *ew_message_copy(const ew_message *message);
/* A copy as other devices may have it, however deep what is for here alone lies in it. */
ew_message *ew_message_elsewhere(const ew_message *message);
void ew_message_free(ew_message *message);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_message, ew_message_free)

/* What it is about, as a key ("oil_pressure", "pull 12", "cylinder 4 inlet"); replaces what was set. Gives `message`. */
ew_message *ew_message_about(ew_message *message, const char *subject);

const char *ew_message_id(const ew_message *message);
const char *ew_message_subject(const ew_message *message); /* or NULL */
enum ew_severity ew_message_severity(const ew_message *message);
gboolean ew_message_is(const ew_message *message, const struct ew_message_kind *kind);
/* NULL when it has no argument of this name. */
const struct ew_argument *ew_message_argument(const ew_message *message, const char *name);
gboolean ew_message_equal(const ew_message *a, const ew_message *b); /* as facts, to the bit */

/* The sentence, in this thread's language and in these units. The caller frees it. */
char *ew_message_text(const ew_message *message, enum ew_unit_system units);

/* One line of JSON without the sentence: {"id":..,"about":..,"arguments":{..}}. The same facts give the same bytes: this is
 * what is stored and digested. Figures read back to the same bits. */
char *ew_message_write(const ew_message *message);
/* Hostile bytes are refused. An identifier that this program does not know (a later program's) is kept with its
 * arguments, and shown as those. */
ew_message *ew_message_read(const char *text, gsize size, GError **error);
/* A sentence that an earlier program stored in place of facts: shown as it is, kind "base.sentence". */
ew_message *ew_message_of_sentence(const char *sentence);

/* The members of an object for the interfaces: id, severity, about, arguments and the rendered text. */
void ew_message_write_json(const ew_message *message, enum ew_unit_system units,
                           struct ew_json *json);

/* That object as the member `key`; null of NULL. */
void ew_message_write_member(const ew_message *message, const char *key, enum ew_unit_system units,
                             struct ew_json *json);

/* Lists of messages, each owned by the list. */
GPtrArray *ew_messages_new(void);
void ew_messages_add(GPtrArray *list, ew_message *message); /* takes it; NULL adds nothing */
void ew_messages_copy(const GPtrArray *from, GPtrArray *to);
void ew_messages_write_json(const GPtrArray *list, const char *key, enum ew_unit_system units,
                            struct ew_json *json);
/* char* each. */
GPtrArray *ew_messages_texts(const GPtrArray *list, enum ew_unit_system units);
