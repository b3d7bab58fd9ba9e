/* What the files of the gate share. Internal to src/judge/comparable*.c. */
#pragma once
#include "judge/comparable.h"

struct ew_gate {
  enum ew_alike_use use;
  guint despite;
  gboolean within;                       /* two pulls of one side are looked at */
  gboolean final;                        /* a reason that cannot be asked about on purpose */
  double hours;                          /* between the sides; NaN: not known */
  double variance[EW_ALIKE_FACTS_COUNT]; /* the widest of each fact */
  struct ew_alike *alike;
};
/* Does this use ask for that fact at all? */
gboolean ew_gate_asks(const struct ew_gate *gate, enum ew_alike_fact fact);
/* A difference of this fact: a change, a reason or nothing, by the table of uses. Takes the message. */
void ew_gate_found(struct ew_gate *gate, enum ew_alike_fact fact, ew_message *message);
/* What may be hidden by this fact, as relative variance of the difference. Takes the message. */
void ew_gate_widen(struct ew_gate *gate, enum ew_alike_fact fact, double variance,
                   ew_message *message);

/* Everything that two pulls can be asked one by one. */
void ew_gate_pair(struct ew_gate *gate, const struct ew_pull_facts *a,
                  const struct ew_pull_facts *b);
/* What one pull says against itself. */
void ew_gate_alone(struct ew_gate *gate, const struct ew_pull_facts *pull);
/* The windows at the start, by the means of the sides. */
void ew_gate_start(struct ew_gate *gate, const struct ew_pull_facts *const *a, gsize n_a,
                   const struct ew_pull_facts *const *b, gsize n_b);
