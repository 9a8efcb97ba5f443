/* Where a value stands in a JSON text: jansson tells places of wrong syntax only. */
#ifndef SWH_SOLVER_FILES_JSON_PLACE_H
#define SWH_SOLVER_FILES_JSON_PLACE_H

/* Line and column, counted from 1, of the value that `steps` leads to in a text of valid JSON; a step is
 * ".key" or "[index]", as in ".EOS[0].alphar[2].n". Where a step leads nowhere, the value before it. */
void swh_json_place(const char *text, const char *steps, long *line, long *column);

#endif
