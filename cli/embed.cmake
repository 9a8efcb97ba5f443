# The bytes of IN as C numbers separated by commas, into OUT.
file(READ ${IN} bytes HEX)
string(REGEX REPLACE "(..)" "0x\\1," bytes "${bytes}")
string(REGEX REPLACE ",$" "" bytes "${bytes}")
file(WRITE ${OUT} "${bytes}\n")
