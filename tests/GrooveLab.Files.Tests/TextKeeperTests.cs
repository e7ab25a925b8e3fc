using System.Runtime.Versioning;
using GrooveLab.Files.Posix;
using Xunit;

namespace GrooveLab.Files.Tests;

public sealed class TextKeeperTests : Sandbox
{
    private string Songs => At("songs");

    private string Song => Path.Combine(Songs, "song.toml");

    private string Data => At("data");

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Save_TheUsersText_IsKeptBesideAndStaysThroughFurtherSaves(bool plain)
    {
        UserWrites("with the tune");

        var first = Written(Keeper(plain).Save(Song, "without the tune", Hash("with the tune")));
        var second = Written(Keeper(plain).Save(Song, "without the tune, slower", first.Content));

        Assert.Equal(Song + "~", first.Backup);
        Assert.Null(second.Backup);
        Files(("song.toml", "without the tune, slower"), ("song.toml~", "with the tune"));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Save_SaveEditSaveSave_KeepsBothTextsOfTheUser(bool plain)
    {
        UserWrites("user 1");
        var read = Hash("user 1");
        read = Written(Keeper(plain).Save(Song, "program 1", read)).Content;
        read = Written(Keeper(plain).Save(Song, "program 2", read)).Content;
        UserWrites("user 2");

        var noticed = Assert.IsType<SaveAnswer.ChangedOutside>(Keeper(plain).Save(Song, "program 3", read));
        Assert.Equal(Hash("user 2"), noticed.Current);
        Files(("song.toml", "user 2"), ("song.toml~", "user 1"));
        var anyway = Written(Keeper(plain).SaveAnyway(Song, "program 3", noticed.Current));
        var last = Written(Keeper(plain).Save(Song, "program 4", anyway.Content));

        Assert.Equal(Song + "~", anyway.Backup);
        Assert.Null(last.Backup);
        Files(("song.toml", "program 4"), ("song.toml~", "user 2"), ("song.toml~2", "user 1"));
    }

    [Fact]
    public void Save_ManyTextsOfTheUser_AreNumberedByAgeAndNoneIsKeptTwice()
    {
        foreach (var text in new[] { "user 1", "user 2", "user 3", "user 1", "user 4" })
        {
            UserWrites(text);
            Written(Keeper().Save(Song, "program after " + text, Hash(text)));
        }

        Files(
            ("song.toml", "program after user 4"), ("song.toml~", "user 4"), ("song.toml~2", "user 1"), ("song.toml~3", "user 2"), ("song.toml~4", "user 3"));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Save_CopyOfAnEditor_IsNotLost(bool plain)
    {
        UserWrites("user 2");
        File.WriteAllText(Song + "~", "user 1, as an editor keeps it");

        Written(Keeper(plain).Save(Song, "program", Hash("user 2")));

        Files(("song.toml", "program"), ("song.toml~", "user 2"), ("song.toml~2", "user 1, as an editor keeps it"));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Save_CopyThatIsALinkOrAFolder_IsLeftWhole(bool plain)
    {
        NeedLinux();
        UserWrites("user 1");
        File.WriteAllText(At("precious"), "precious");
        File.CreateSymbolicLink(Song + "~", At("precious"));
        var first = Written(Keeper(plain).Save(Song, "program 1", Hash("user 1")));
        Assert.Equal("precious", File.ReadAllText(At("precious")));
        Assert.Equal(At("precious"), new FileInfo(Song + "~2").LinkTarget);

        File.Delete(Song + "~");
        Directory.CreateDirectory(Song + "~");
        UserWrites("user 2");
        var second = Written(Keeper(plain).SaveAnyway(Song, "program 2", Hash("user 2")));

        Assert.NotNull(first.Backup);
        Assert.Equal(Song + "~3", second.Backup);
        Assert.Equal("user 2", File.ReadAllText(Song + "~3"));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Save_TwoPrograms_TheSecondIsToldAndKeepsTheFirstsTextWhenItSavesAnyway(bool plain)
    {
        UserWrites("user");
        var one = Written(Keeper(plain).Save(Song, "one", Hash("user")));

        var two = Assert.IsType<SaveAnswer.ChangedOutside>(Keeper(plain).Save(Song, "two", Hash("user")));
        Written(Keeper(plain).SaveAnyway(Song, "two", two.Current));

        Files(("song.toml", "two"), ("song.toml~", "one"), ("song.toml~2", "user"));
        Assert.IsType<SaveAnswer.ChangedOutside>(Keeper(plain).Save(Song, "one again", one.Content));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void SaveAnyway_ChangedOnceMore_IsToldAgain(bool plain)
    {
        UserWrites("user 2");

        var answer = Assert.IsType<SaveAnswer.ChangedOutside>(Keeper(plain).SaveAnyway(Song, "program", Hash("user 1")));

        Assert.Equal(Hash("user 2"), answer.Current);
        Files(("song.toml", "user 2"));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Save_DeletedMeanwhile_IsToldAndMadeAgainWhenWanted(bool plain)
    {
        UserWrites("user");
        File.Delete(Song);

        var answer = Assert.IsType<SaveAnswer.ChangedOutside>(Keeper(plain).Save(Song, "program", Hash("user")));
        Assert.Null(answer.Current);
        Files();
        var written = Written(Keeper(plain).SaveAnyway(Song, "program", null));

        Assert.Null(written.Backup);
        Files(("song.toml", "program"));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Save_NewNameThatExists_IsToldAndNotReplaced(bool plain)
    {
        UserWrites("somebody's");

        var answer = Assert.IsType<SaveAnswer.ChangedOutside>(Keeper(plain).Save(Song, "program", null));

        Assert.Equal(Hash("somebody's"), answer.Current);
        Files(("song.toml", "somebody's"));
    }

    [Fact]
    public void Save_TheSameTextAgain_TouchesNothingAndStaysTheUsers()
    {
        UserWrites("user");
        File.SetLastWriteTimeUtc(Song, new DateTime(2020, 1, 1, 0, 0, 0, DateTimeKind.Utc));

        Assert.Null(Written(Keeper().Save(Song, "user", Hash("user"))).Backup);

        Assert.Equal(2020, File.GetLastWriteTimeUtc(Song).Year);
        Assert.Equal(Song + "~", Written(Keeper().Save(Song, "program", Hash("user"))).Backup);
    }

    [Fact]
    public void Save_AnotherProgramWroteTheSame_IsWritten()
    {
        UserWrites("the same");

        Assert.Null(Written(Keeper().Save(Song, "the same", Hash("user"))).Backup);
        Files(("song.toml", "the same"));
    }

    [Fact]
    public void Save_UserBringsBackAnEarlierTextOfTheProgram_IsKeptAsTheirs()
    {
        UserWrites("user");
        var read = Written(Keeper().Save(Song, "program 1", Hash("user"))).Content;
        Written(Keeper().Save(Song, "program 2", read));
        UserWrites("program 1");

        var third = Written(Keeper().Save(Song, "program 3", Hash("program 1")));

        Assert.Equal(Song + "~", third.Backup);
        Files(("song.toml", "program 3"), ("song.toml~", "program 1"), ("song.toml~2", "user"));
    }

    [Fact]
    public void Save_UserRestoresTheCopy_IsKeptOnce()
    {
        UserWrites("user");
        Written(Keeper().Save(Song, "program 1", Hash("user")));
        File.Copy(Song + "~", Song, overwrite: true);

        var again = Written(Keeper().Save(Song, "program 2", Hash("user")));

        Assert.Equal(Song + "~", again.Backup);
        Files(("song.toml", "program 2"), ("song.toml~", "user"));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Save_EndedBeforeTheRename_TheUsersTextCountsAsTheirsStill(bool plain)
    {
        // The state on the disk if the program ends between recording what it will write and writing it.
        UserWrites("user");
        WrittenRecord.Of(Data, Song).WillWrite(Hash("program 1"), Hash("user"));

        var written = Written(Keeper(plain).Save(Song, "program 2", Hash("user")));

        Assert.Equal(Song + "~", written.Backup);
        Files(("song.toml", "program 2"), ("song.toml~", "user"));
    }

    [Theory]
    [InlineData("program 1")]
    [InlineData("program 2")]
    public void Save_EndedAroundTheRename_TheProgramsTextDoesNotReplaceTheCopy(string onDisk)
    {
        UserWrites("user");
        Written(Keeper().Save(Song, "program 1", Hash("user")));
        WrittenRecord.Of(Data, Song).WillWrite(Hash("program 2"), Hash("program 1"));
        File.WriteAllText(Song, onDisk);

        Assert.Null(Written(Keeper().Save(Song, "program 3", Hash(onDisk))).Backup);

        Files(("song.toml", "program 3"), ("song.toml~", "user"));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Save_ThroughLinks_MeetsOneFileAndOneRecord(bool plain)
    {
        NeedLinux();
        UserWrites("user");
        File.CreateSymbolicLink(At("one"), Song);
        File.CreateSymbolicLink(At("two"), "one");

        var first = Written(Keeper(plain).Save(At("two"), "program 1", Hash("user")));
        var second = Written(Keeper(plain).Save(At("one"), "program 2", first.Content));
        var third = Written(Keeper(plain).Save(Song, "program 3", second.Content));

        Assert.Equal(Song, first.Path);
        Assert.Equal((Song + "~", null, null), (first.Backup, second.Backup, third.Backup));
        Files(("song.toml", "program 3"), ("song.toml~", "user"));
        Assert.Equal("one", new FileInfo(At("two")).LinkTarget);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Save_PermissionsAndTheCopys_AreTheFiles(bool plain)
    {
        NeedLinux();
        UserWrites("user");
        const UnixFileMode Private = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        SetMode(Song, Private);

        Written(Keeper(plain).Save(Song, "program", Hash("user")));

        Assert.Equal(Private, Mode(Song));
        Assert.Equal(Private, Mode(Song + "~"));
    }

    [Fact]
    public void Save_ReadOnlyFileSystem_IsRefusedAndNothingIsTouched()
    {
        var disk = Mount("256k");
        var song = Path.Combine(disk, "song.toml");
        File.WriteAllText(song, "user");
        Run("mount", "-o", "remount,ro", disk);

        var answer = Assert.IsType<SaveAnswer.Refused>(Keeper().Save(song, "program", Hash("user")));

        Assert.Equal(FileProblem.ReadOnly, answer.Refusal.Problem);
        Assert.Equal("user", File.ReadAllText(song));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Save_FullDisk_IsRefusedAndNothingIsTouched(bool plain)
    {
        var disk = Mount("32k");
        var song = Path.Combine(disk, "song.toml");
        File.WriteAllText(song, "user 2");
        File.WriteAllText(song + "~", "user 1");

        var answer = Assert.IsType<SaveAnswer.Refused>(Keeper(plain).Save(song, new string('x', 40_000), Hash("user 2")));

        Assert.Equal(FileProblem.DiskFull, answer.Refusal.Problem);
        Assert.Equal("user 2", File.ReadAllText(song));
        Assert.Equal("user 1", File.ReadAllText(song + "~"));
        Assert.Equal(["song.toml", "song.toml~"], Names(disk));
    }

    [Fact]
    public void Save_FullDiskWithRoomForTheTextOnly_KeepsTheUsersTextWithoutRoom()
    {
        // Two pages: one for the user's text, one for the program's; the copy needs none.
        var disk = Mount("8k");
        var song = Path.Combine(disk, "song.toml");
        File.WriteAllText(song, "user");

        Written(Keeper().Save(song, "program", Hash("user")));

        Assert.Equal("program", File.ReadAllText(song));
        Assert.Equal("user", File.ReadAllText(song + "~"));
    }

    [Fact]
    public void Save_FullDiskWithoutRoomForACopy_IsRefusedOnAPlainSystem()
    {
        var disk = Mount("8k");
        var song = Path.Combine(disk, "song.toml");
        File.WriteAllText(song, "user 2");
        File.WriteAllText(song + "~", string.Empty);

        var answer = Assert.IsType<SaveAnswer.Refused>(Keeper(plain: true).Save(song, "program", Hash("user 2")));

        Assert.Equal(FileProblem.DiskFull, answer.Refusal.Problem);
        Assert.Equal("user 2", File.ReadAllText(song));
        Assert.Equal(["song.toml", "song.toml~"], Names(disk));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Save_NothingCanBeRemembered_EveryTextIsTakenForTheUsers(bool plain)
    {
        UserWrites("user");
        File.WriteAllText(Data, "a file where the folder should be");
        var read = Written(Keeper(plain).Save(Song, "program 1", Hash("user"))).Content;

        var second = Written(Keeper(plain).Save(Song, "program 2", read));

        Assert.Equal(Song + "~", second.Backup);
        Files(("song.toml", "program 2"), ("song.toml~", "program 1"), ("song.toml~2", "user"));
    }

    [Fact]
    public void Save_RecordThatMakesNoSense_EveryTextIsTakenForTheUsers()
    {
        UserWrites("user");
        var read = Written(Keeper().Save(Song, "program 1", Hash("user"))).Content;
        var record = Assert.Single(Directory.GetFiles(Path.Combine(Data, "written")));
        File.WriteAllBytes(record, new byte[200]);

        Assert.Equal(Song + "~", Written(Keeper().Save(Song, "program 2", read)).Backup);
    }

    [Fact]
    public void Save_MissingFolder_IsNamed()
    {
        var answer = Assert.IsType<SaveAnswer.Refused>(Keeper().Save(At("none/song.toml"), "program", null));

        Assert.Equal($"{At("none/song.toml")}: folder not found: {At("none")}; create it, or choose another folder", answer.Refusal.Message);
    }

    [Fact]
    public void Save_Pipe_IsRefused()
    {
        NeedLinux();
        var answer = Assert.IsType<SaveAnswer.Refused>(Keeper().Save("/dev/null", "program", null));

        Assert.Equal(FileProblem.NotAFile, answer.Refusal.Problem);
    }

    [Fact]
    public void Save_WhileAnEditorHasTheFileOpenForWriting_IsRefusedAndTheEditorsTextStays()
    {
        NeedLinux();
        UserWrites("user");
        using (var editor = new FileStream(Song, FileMode.Open, FileAccess.ReadWrite, FileShare.ReadWrite))
        {
            Assert.SkipUnless(IsOpenForWriting(Song), "This file system does not report which files are open.");

            var answer = Assert.IsType<SaveAnswer.Refused>(Keeper().Save(Song, "program", Hash("user")));

            Assert.Equal(FileProblem.Busy, answer.Refusal.Problem);
            editor.Write("edited"u8);
        }

        Assert.Equal("edited", File.ReadAllText(Song));
        Assert.DoesNotContain(Names(Songs), name => name.StartsWith(".groovelab", StringComparison.Ordinal));
        Assert.False(IsOpenForWriting(Song));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task Save_FolderLockedByAnotherProgram_WaitsForIt(bool plain)
    {
        UserWrites("user");
        Task<SaveAnswer> save;
        using (FolderLock.Take(Songs, Data, plain))
        {
            Assert.Null(FolderLock.Take(Songs, Data, plain, TimeSpan.Zero));
            save = Task.Run(() => Keeper(plain).Save(Song, "program", Hash("user")), TestContext.Current.CancellationToken);
            UserWrites("user 2");
        }

        Assert.IsType<SaveAnswer.ChangedOutside>(await save);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Take_LockOfAKilledProcess_IsFreeAtOnce(bool plain)
    {
        NeedLinux();
        Directory.CreateDirectory(Songs);
        Directory.CreateDirectory(Path.Combine(Data, "locks"));
        using (FolderLock.Take(Songs, Data, plain))
        {
            // Creates the file that is locked on a plain system.
        }

        var locked = plain ? Assert.Single(Directory.GetFiles(Path.Combine(Data, "locks"))) : Songs;
        using var holder = System.Diagnostics.Process.Start(new System.Diagnostics.ProcessStartInfo("flock", [locked, "sh", "-c", "echo; exec sleep 1000"])
        {
            UseShellExecute = false,
            RedirectStandardOutput = true,
        })!;
        holder.StandardOutput.ReadLine();
        Assert.Null(FolderLock.Take(Songs, Data, plain, TimeSpan.Zero));

        holder.Kill(entireProcessTree: true);
        holder.WaitForExit();

        using var taken = FolderLock.Take(Songs, Data, plain);
        Assert.NotNull(taken);
    }

    [Fact]
    public void Save_FileIsHeldOpenForAMoment_WaitsAndIsWritten()
    {
        NeedLinux();
        UserWrites("user");

        // It is let go a while after the first exchange is seen: a process that is slowly started keeps what its parent has open as long.
        using var held = new FileStream(Song, FileMode.Open, FileAccess.Write, FileShare.ReadWrite | FileShare.Delete);
        using var watcher = new FileSystemWatcher(Songs);
        var letGo = Task.CompletedTask;
        watcher.Renamed += (_, seen) =>
        {
            if (seen.FullPath == Song && letGo.IsCompleted)
            {
                letGo = Task.Delay(200, TestContext.Current.CancellationToken).ContinueWith(_ => held.Dispose(), TaskScheduler.Default);
            }
        };
        watcher.EnableRaisingEvents = true;

        Written(Keeper(plain: false).Save(Song, "program", Hash("user")));

        Assert.Equal("program", File.ReadAllText(Song));
    }

    [Fact]
    public void Save_ManyThreadsThatReadAgain_LoseNoTextOfTheUserAndLeaveOneCopy()
    {
        UserWrites("user");

        Parallel.For(0, 8, thread =>
        {
            ContentHash? read = Hash("user");
            for (var save = 0; save < 10;)
            {
                switch (Keeper(plain: thread % 2 == 1 && !OperatingSystem.IsLinux()).Save(Song, $"program {thread}.{save}", read))
                {
                    case SaveAnswer.Written written:
                        read = written.Content;
                        save++;
                        break;
                    case SaveAnswer.ChangedOutside changed:
                        read = changed.Current;
                        break;
                    // On a busy machine others may hold the file for longer than a save waits; the message says to try again.
                    case SaveAnswer.Refused { Refusal.Problem: not FileProblem.Busy } refused:
                        Assert.Fail(refused.Refusal.Message);
                        break;
                    default:
                        break;
                }
            }
        });

        Assert.Equal("user", File.ReadAllText(Song + "~"));
        Assert.Equal(["song.toml", "song.toml~"], Names(Songs));
    }

    [Fact]
    public void CopyOf_ATextThatWasKept_FollowsItsCopy()
    {
        UserWrites("user 1");
        Written(Keeper().Save(Song, "program 1", Hash("user 1")));
        Assert.Equal(Song + "~", TextKeeper.CopyOf(Song, Hash("user 1")));

        UserWrites("user 2");
        Written(Keeper().Save(Song, "program 2", Hash("user 2")));

        Assert.Equal(Song + "~2", TextKeeper.CopyOf(Song, Hash("user 1")));
        Assert.Null(TextKeeper.CopyOf(Song, Hash("program 1")));
        Assert.Null(TextKeeper.CopyOf(At("none/song.toml"), Hash("user 1")));
    }

    [Fact]
    public void ContentHash_WrittenAndRead_IsTheSame()
    {
        var hash = Hash("text");

        Assert.Equal(hash, ContentHash.Parse(hash.ToString()));
        Assert.Null(ContentHash.Parse("abc"));
        Assert.NotEqual(hash, Hash("texts"));

        // The example value for SHA-256 from the test vectors of FIPS 180-4, from memory.
        Assert.Equal("ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", ContentHash.Of("abc").ToString());
    }

    [Fact]
    public void Save_EditorOpensTheReplacedFileAfterwards_CopiesItsText()
    {
        NeedLinux();
        var keeper = Keeper();
        UserWrites("user");
        Assert.IsType<SaveAnswer.Written>(keeper.Save(Song, "program 1", Hash("user")));

        // As an editor that has looked up the name before the exchange and opens the file after it.
        using var found = File.OpenHandle(Song, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete);
        Assert.IsType<SaveAnswer.Written>(keeper.Save(Song, "program 2", Hash("program 1")));
        File.WriteAllText($"/proc/self/fd/{found.DangerousGetHandle()}", "late");
        Assert.True(SpinWait.SpinUntil(() => TextKeeper.CopyOf(Song, Hash("late")) is not null, TimeSpan.FromSeconds(30)));

        Assert.Equal("program 2", File.ReadAllText(Song));
        Assert.Equal(["song.toml", "song.toml~", "song.toml~2"], Names(Songs).Order());
    }

    [Fact]
    [SupportedOSPlatform("linux")]
    public void Save_EditorWritesToACopyAfterwards_CopiesItOnce()
    {
        NeedLinux();
        UserWrites("user");
        using var found = File.OpenHandle(Song, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete);
        Assert.IsType<SaveAnswer.Written>(Keeper().Save(Song, "program", Hash("user")));
        File.WriteAllText($"/proc/self/fd/{found.DangerousGetHandle()}", "late");
        LatelyReplaced.Look();

        Assert.Equal("late", File.ReadAllText(Song + "~"));
        Assert.Equal(["song.toml", "song.toml~"], Names(Songs).Order());
    }

    [Fact]
    [SupportedOSPlatform("linux")]
    public void WriteWatch_OpenedForWritingMeanwhile_SaysSoAndHoldsTheWriter()
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "Leases are a feature of Linux.");
        UserWrites("a");
        var watch = WriteWatch.Of(Song);
        Assert.False(watch.IsWritten);

        var writer = new Thread(() => File.WriteAllText(Song, "b"));
        writer.Start();
        Assert.True(SpinWait.SpinUntil(() => watch.IsWritten, TimeSpan.FromSeconds(30)));
        var meanwhile = File.ReadAllText(Song);
        watch.Dispose();
        writer.Join();

        Assert.Equal("a", meanwhile);
        Assert.Equal("b", File.ReadAllText(Song));
    }

    private static bool IsOpenForWriting(string path)
    {
        if (!OperatingSystem.IsLinux())
        {
            return false;
        }

        using var watch = WriteWatch.Of(path);
        return watch.IsWritten;
    }

    private static ContentHash Hash(string text) => ContentHash.Of(text);

    private static SaveAnswer.Written Written(SaveAnswer answer) => Assert.IsType<SaveAnswer.Written>(answer);

    private TextKeeper Keeper(bool plain = false) => new(Data) { IsPlain = plain };

    private void UserWrites(string text)
    {
        Directory.CreateDirectory(Songs);
        File.WriteAllText(Path.Combine(Songs, "editor"), text);
        File.Move(Path.Combine(Songs, "editor"), Song, overwrite: true);
    }

    private void Files(params (string Name, string Text)[] files) =>
        Assert.Equal(
            files.OrderBy(file => file.Name, StringComparer.Ordinal),
            Names(Songs).Select(name => (name, File.ReadAllText(Path.Combine(Songs, name)))));
}
