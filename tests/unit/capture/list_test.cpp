#include <gmock/gmock.h>

#include "capture/photo.hpp"
#include "support/photo_files.hpp"
#include "support/scratch_folder.hpp"

namespace lotwear {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::SizeIs;

std::vector<std::string> names(const PhotoList& list) {
  std::vector<std::string> out;
  for (const auto& file : list.files)
    out.push_back(file.filename().string());
  return out;
}

TEST(ListPhotos, OfAFolderByNameWithoutTheRest) {
  const test::ScratchFolder folder;
  for (const char* name : {"b.JPG", "a.jpeg", "d.HeIc", "c.png", "e.heif", "notes.txt", "film.mov", ".hidden.jpg",
                           "._b.JPG", "noending", "below/z.jpg"}) {
    folder.put(name, std::string("x"));
  }
  std::filesystem::create_directory(folder / "album.jpg");
  const PhotoList list = list_photos({folder.path()});
  EXPECT_THAT(names(list), ElementsAre("a.jpeg", "b.JPG", "c.png", "d.HeIc", "e.heif"));
  EXPECT_THAT(list.problems, IsEmpty());
}

TEST(ListPhotos, SortsAcrossFoldersAndTakesEachOnce) {
  const test::ScratchFolder folder;
  folder.put("one/b.jpg", std::string("x"));
  folder.put("two/a.jpg", std::string("x"));
  folder.put("two/b.jpg", std::string("x"));
  const PhotoList list = list_photos({folder / "one", folder / "two", folder / "one/b.jpg", folder / "two/../one"});
  EXPECT_THAT(list.files, ElementsAre(folder / "two/a.jpg", folder / "one/b.jpg", folder / "two/b.jpg"));
}

TEST(ListPhotos, NamedThingsThatAreNoPhotosAreProblems) {
  const test::ScratchFolder folder;
  folder.put("notes.txt", std::string("dear diary"));
  std::filesystem::create_directory(folder / "empty");
  std::filesystem::create_symlink(folder / "gone", folder / "link");
  const PhotoList list = list_photos({folder / "notes.txt", folder / "missing", folder / "empty", folder / "link"});
  EXPECT_THAT(list.files, IsEmpty());
  ASSERT_THAT(list.problems, SizeIs(4));
  EXPECT_THAT(list.problems[0].what, HasSubstr("not a photo"));
  EXPECT_THAT(list.problems[1].what, HasSubstr("no such file or folder"));
  EXPECT_THAT(list.problems[2].what, HasSubstr("no JPEG, PNG or HEIC photos"));
  EXPECT_THAT(list.problems[3].what, HasSubstr("no such file or folder"));
}

TEST(ListPhotos, NamedPhotoWithoutAnEndingIsTaken) {
  const test::ScratchFolder folder;
  folder.put("scan", test::jpeg_bytes(cv::Mat(40, 40, CV_8UC3, cv::Scalar(1, 2, 3))));
  EXPECT_THAT(names(list_photos({folder / "scan"})), ElementsAre("scan"));
}

TEST(ListPhotos, DanglingLinkInAFolderIsLeftToReading) {
  const test::ScratchFolder folder;
  std::filesystem::create_symlink(folder / "gone.jpg", folder / "link.jpg");
  EXPECT_THAT(names(list_photos({folder.path()})), ElementsAre("link.jpg"));
}

}  // namespace
}  // namespace lotwear
