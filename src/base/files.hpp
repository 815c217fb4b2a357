#pragma once
// Outputs are written to a temporary name beside the target and renamed, so a crash or a full disk never leaves half a file
// where the user's whole one was.

#include <filesystem>
#include <string>
#include <string_view>

namespace lotwear {

/// Writes `bytes` and renames into place. Throws Failure when the folder cannot be written.
void write_file(const std::filesystem::path& target, std::string_view bytes);

/// Writes `bytes` at the file's end (a new file's, where there is none) and flushes them to the disk, the new name too. Throws
/// Failure when it cannot; the file is as it was then.
void append_to_file(const std::filesystem::path& target, std::string_view bytes);

/// Whole file. Throws Failure when it is missing, unreadable or larger than `at_most` bytes.
std::string read_file(const std::filesystem::path& source, std::size_t at_most = std::size_t{1} << 30);

}  // namespace lotwear
