# Writes the commit of SOURCE into the header OUT, unless it says so already.
set(commit "unknown")
execute_process(COMMAND git -C ${SOURCE} rev-parse --show-toplevel OUTPUT_VARIABLE top OUTPUT_STRIP_TRAILING_WHITESPACE
                RESULT_VARIABLE missing ERROR_QUIET)
if(missing EQUAL 0 AND top STREQUAL SOURCE) # not that of a project round ours
  execute_process(COMMAND git -C ${SOURCE} describe --always --dirty --abbrev=12 --exclude=* OUTPUT_VARIABLE found
                  OUTPUT_STRIP_TRAILING_WHITESPACE RESULT_VARIABLE missing ERROR_QUIET)
  if(missing EQUAL 0 AND NOT found STREQUAL "")
    set(commit ${found})
  endif()
endif()
file(CONFIGURE OUTPUT ${OUT} CONTENT "#define SWH_COMMIT \"${commit}\"\n")
