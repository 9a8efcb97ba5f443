/* What the entries of a page share. */
#ifndef SWH_SOLVER_WEB_PAGE_CASE_H
#define SWH_SOLVER_WEB_PAGE_CASE_H

#include "solver/simulate/case.h"

/* seen by the page */
#define SWH_WEB_ENTRY __attribute__((used, visibility("default")))

/* The case that the page has set up, and its buffer for words. */
struct swh_case *swh_web_case(void);
char *swh_web_text(void);
int swh_web_text_size(void);

#endif
