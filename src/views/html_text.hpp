#pragma once
// What other people wrote, on its way into a page: it stays text.

#include <string>
#include <string_view>

namespace lotwear {

/// Bytes that are not UTF-8 and control characters replaced by U+FFFD (a tab and a new line stay).
std::string valid_utf8(std::string_view text);

/// At most so many bytes, cut between characters, with an ellipsis where something was left out.
std::string cut_short(const std::string& text, std::size_t most);

/// Text for HTML, in elements and in quoted attributes: & < > " ' escaped, bytes that are not UTF-8 and control
/// characters replaced by U+FFFD (a tab and a new line stay).
std::string escape(std::string_view text);

/// The same inside <bdi>, so that right-to-left marks in a name cannot turn its surroundings around.
std::string escape_name(std::string_view text);

/// RFC 4648, with padding.
std::string base64(std::string_view bytes);

}  // namespace lotwear
