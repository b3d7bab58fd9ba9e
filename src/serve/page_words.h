/* What a refusal says, for somebody at a page: no command and no option of the command line, but the place on the page where the
 * same is done. Rooms below word their refusals once, for a terminal. */
#pragma once

/* A copy, to be freed. */
char *ew_page_words(const char *message);
