/* Why a source cannot be reached, and what a person at the cell looks at first: the errors of the system that are met there, in our words and the
 * reader's language. */
#pragma once
#include "base/message.h"

/* Of a peer on the network. `error`: an errno; one that has no words here has the system's own. */
ew_message *ew_source_why_peer(int error);
/* Of a line or a file of this machine. */
ew_message *ew_source_why_device(int error);
