# cmake -DOUT=file.cpp "-DFILES=a;b" -P embed.cmake: the files' bytes as one table for src/review/page_files.hpp.
set(tables "")
set(rows "")
set(number 0)
foreach(file IN LISTS FILES)
  get_filename_component(name "${file}" NAME)
  get_filename_component(ending "${file}" LAST_EXT)
  if(ending STREQUAL ".html")
    set(type "text/html; charset=utf-8")
  elseif(ending STREQUAL ".css")
    set(type "text/css; charset=utf-8")
  elseif(ending STREQUAL ".js")
    set(type "text/javascript; charset=utf-8")
  else()
    set(type "image/svg+xml")
  endif()
  file(READ "${file}" hex HEX)
  string(LENGTH "${hex}" twice)
  math(EXPR size "${twice} / 2")
  # octal escapes would need a look at what follows; a list of numbers does not
  string(REGEX REPLACE "([0-9a-f][0-9a-f])" "'\\\\x\\1'," bytes "${hex}")
  string(APPEND tables "constexpr char k${number}[] = {${bytes}};\n")
  string(APPEND rows "    {\"${name}\", \"${type}\", {k${number}, ${size}}},\n")
  math(EXPR number "${number} + 1")
endforeach()
file(WRITE "${OUT}" "// Made by src/cmake/embed.cmake.
#include <array>

#include \"review/page_files.hpp\"

namespace lotwear {
namespace {
${tables}
constexpr std::array<PageFile, ${number}> kFiles{{
${rows}}};
}  // namespace

std::optional<PageFile> page_file(std::string_view name) {
  for (const PageFile& file : kFiles) {
    if (file.name == name) return file;
  }
  return std::nullopt;
}

}  // namespace lotwear
")
