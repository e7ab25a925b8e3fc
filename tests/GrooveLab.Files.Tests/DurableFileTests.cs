using System.Net.Sockets;
using System.Text;
using GrooveLab.Files.Posix;
using Xunit;

namespace GrooveLab.Files.Tests;

public sealed class DurableFileTests : Sandbox
{
    private static readonly WriteOptions Plain = new() { IsPlain = true };

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Write_NewFile_HoldsTheContentAndNothingElseIsLeft(bool plain)
    {
        var result = DurableFile.Write(At("a.wav"), stream => stream.Write("content"u8), new WriteOptions { IsPlain = plain });

        Assert.True(result.IsWritten);
        Assert.Equal("content", File.ReadAllText(At("a.wav")));
        Assert.Equal(["a.wav"], Names());
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Write_StreamThatIsRewound_HoldsWhatWasWrittenLast(bool plain)
    {
        DurableFile.Write(
            At("a.wav"),
            stream =>
            {
                stream.Write("????1234"u8);
                stream.Position = 0;
                stream.Write("head"u8);
            },
            new WriteOptions { IsPlain = plain }).ThrowIfRefused();

        Assert.Equal("head1234", File.ReadAllText(At("a.wav")));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Write_FileOfThatName_IsKeptUnlessTold(bool plain)
    {
        File.WriteAllText(At("a.wav"), "old");

        var refusal = Refusal(DurableFile.WriteText(At("a.wav"), "new", new WriteOptions { IsPlain = plain }));

        Assert.Equal(FileProblem.AlreadyExists, refusal.Problem);
        Assert.Contains(At("a.wav"), refusal.Message, StringComparison.Ordinal);
        Assert.Equal("old", File.ReadAllText(At("a.wav")));
        Assert.True(DurableFile.WriteText(At("a.wav"), "new", new WriteOptions { Replace = true, IsPlain = plain }).IsWritten);
        Assert.Equal("new", File.ReadAllText(At("a.wav")));
        Assert.Equal(["a.wav"], Names());
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Write_FileAppearsMeanwhile_IsKept(bool plain)
    {
        var result = DurableFile.Write(
            At("a.wav"),
            stream =>
            {
                stream.Write("ours"u8);
                File.WriteAllText(At("a.wav"), "theirs");
            },
            new WriteOptions { IsPlain = plain });

        Assert.Equal(FileProblem.AlreadyExists, Refusal(result).Problem);
        Assert.Equal("theirs", File.ReadAllText(At("a.wav")));
        Assert.Equal(["a.wav"], Names());
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Write_ManyAtOnceWithoutReplacing_OneIsWrittenAndItsContentStays(bool plain)
    {
        var results = new WriteResult[16];

        Parallel.For(0, results.Length, at => results[at] = DurableFile.WriteText(At("a"), $"writer {at}", new WriteOptions { IsPlain = plain }));

        var winner = Assert.Single(Enumerable.Range(0, results.Length), at => results[at].IsWritten);
        Assert.Equal($"writer {winner}", File.ReadAllText(At("a")));
        Assert.Equal(["a"], Names());
    }

    [Fact]
    public void Write_OldFileWhileWriting_StaysUntilTheEnd()
    {
        File.WriteAllText(At("a"), "old");

        DurableFile.Write(
            At("a"),
            stream =>
            {
                stream.Write("new"u8);
                stream.Flush();
                Assert.Equal("old", File.ReadAllText(At("a")));
            },
            WriteOptions.Replacing).ThrowIfRefused();

        Assert.Equal("new", File.ReadAllText(At("a")));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Write_ContentFails_ReachesTheCallerAndLeavesNothing(bool plain)
    {
        File.WriteAllText(At("a"), "old");

        Assert.Throws<InvalidOperationException>(() => DurableFile.Write(
            At("a"),
            stream =>
            {
                stream.Write(new byte[200_000]);
                throw new InvalidOperationException("the music failed");
            },
            new WriteOptions { Replace = true, IsPlain = plain }));

        Assert.Equal("old", File.ReadAllText(At("a")));
        Assert.Equal(["a"], Names());
    }

    [Fact]
    public void Write_OtherFileRefusedInContent_ReachesTheCaller()
    {
        Assert.Throws<FileRefusedException>(() => DurableFile.Write(
            At("a"), (Stream _) => DurableFile.WriteText(At("none/b"), "x").ThrowIfRefused()));
    }

    [Fact]
    public void WriteText_ByteOrderMark_OnlyWhereTheTextBeginsWithOne()
    {
        DurableFile.WriteText(At("a"), "ä").ThrowIfRefused();
        DurableFile.WriteText(At("b"), "\uFEFFä").ThrowIfRefused();

        Assert.Equal([0xC3, 0xA4], File.ReadAllBytes(At("a")));
        Assert.Equal([0xEF, 0xBB, 0xBF, 0xC3, 0xA4], File.ReadAllBytes(At("b")));
    }

    [Fact]
    public void Write_MissingFolder_IsNamedOrMade()
    {
        var refusal = Refusal(DurableFile.WriteText(At("none/deep/a"), "x"));

        Assert.Equal(FileProblem.FolderMissing, refusal.Problem);
        Assert.Contains(At("none/deep"), refusal.Message, StringComparison.Ordinal);
        Assert.True(DurableFile.WriteText(At("none/deep/a"), "x", WriteOptions.Own).IsWritten);
        Assert.Equal("x", File.ReadAllText(At("none/deep/a")));
    }

    [Fact]
    public void Write_FileInPlaceOfAFolder_IsRefused()
    {
        File.WriteAllText(At("file"), "x");

        Assert.Equal(FileProblem.FolderMissing, Refusal(DurableFile.WriteText(At("file/a"), "x")).Problem);
        Assert.False(DurableFile.WriteText(At("file/a"), "x", WriteOptions.Own).IsWritten);
    }

    [Theory]
    [InlineData("")]
    [InlineData("  ")]
    [InlineData("a\0b")]
    public void Write_NoNameAtAll_IsRefused(string path) =>
        Assert.Equal(FileProblem.InvalidName, Refusal(DurableFile.WriteText(path, "x", WriteOptions.Own)).Problem);

    [Fact]
    public void Write_Folder_IsRefusedInPlainWords()
    {
        Directory.CreateDirectory(At("songs"));

        foreach (var path in new[] { At("songs"), At("songs") + Path.DirectorySeparatorChar, Path.GetPathRoot(Folder)! })
        {
            var refusal = Refusal(DurableFile.WriteText(path, "x", WriteOptions.Replacing));
            Assert.Equal(FileProblem.IsFolder, refusal.Problem);
            Assert.Equal($"{path}: is a folder; name a file", refusal.Message);
        }
    }

    [Fact]
    public void Write_LongName_IsRefusedBeforeAnythingIsWritten()
    {
        var path = At(new string('n', 300));

        var refusal = Refusal(DurableFile.Write(path, _ => Assert.Fail("Nothing is written under this name.")));

        Assert.Equal(FileProblem.NameTooLong, refusal.Problem);
        Assert.Empty(Names());
    }

    [Fact]
    public void Write_LongestName_IsWritten()
    {
        NeedLinux();
        var path = At(new string('n', 255));

        Assert.True(DurableFile.WriteText(path, "x", Plain).IsWritten);
        Assert.True(DurableFile.WriteText(path, "y", Plain with { Replace = true }).IsWritten);
    }

    [Fact]
    public void Write_ThroughLinks_ReachesTheFileAndKeepsTheLinks()
    {
        NeedLinux();
        Directory.CreateDirectory(At("real"));
        File.WriteAllText(At("real/a"), "old");
        File.CreateSymbolicLink(At("one"), "real/a");
        File.CreateSymbolicLink(At("two"), At("one"));

        Assert.True(DurableFile.WriteText(At("two"), "new", WriteOptions.Replacing).IsWritten);

        Assert.Equal("new", File.ReadAllText(At("real/a")));
        Assert.Equal(At("one"), new FileInfo(At("two")).LinkTarget);
        Assert.Equal("real/a", new FileInfo(At("one")).LinkTarget);
        Assert.Equal(["one", "real", "two"], Names());
        Assert.Equal(["a"], Names(At("real")));
    }

    [Fact]
    public void Write_LinkToAFileWithoutReplacing_IsRefused()
    {
        NeedLinux();
        File.WriteAllText(At("a"), "old");
        File.CreateSymbolicLink(At("link"), "a");

        Assert.Equal(FileProblem.AlreadyExists, Refusal(DurableFile.WriteText(At("link"), "new")).Problem);
    }

    [Fact]
    public void Write_LinkToNothingYet_MakesTheFileWhereItLeads()
    {
        NeedLinux();
        Directory.CreateDirectory(At("real"));
        File.CreateSymbolicLink(At("link"), "real/a");

        Assert.True(DurableFile.WriteText(At("link"), "new").IsWritten);

        Assert.Equal("new", File.ReadAllText(At("real/a")));
        Assert.Equal("real/a", new FileInfo(At("link")).LinkTarget);
    }

    [Fact]
    public void Write_LinkOutOfALinkedFolder_IsFollowedFromWhereItReallyLies()
    {
        NeedLinux();
        Directory.CreateDirectory(At("deep/er"));
        Directory.CreateSymbolicLink(At("short"), At("deep/er"));
        File.CreateSymbolicLink(At("deep/er/link"), "../a");

        Assert.True(DurableFile.WriteText(At("short/link"), "new").IsWritten);

        Assert.Equal("new", File.ReadAllText(At("deep/a")));
        Assert.Equal(["deep", "short"], Names());
    }

    [Fact]
    public void Write_LinksInACircle_AreRefused()
    {
        NeedLinux();
        File.CreateSymbolicLink(At("one"), "two");
        File.CreateSymbolicLink(At("two"), "one");

        Assert.Equal(FileProblem.TooManyLinks, Refusal(DurableFile.WriteText(At("one"), "new", WriteOptions.Replacing)).Problem);
    }

    [Theory]
    [InlineData(40, true)]
    [InlineData(41, false)]
    public void Write_ChainOfLinks_IsFollowedAsFarAsTheSystemDoes(int links, bool isWritten)
    {
        NeedLinux();
        File.WriteAllText(At("0"), "old");
        for (var link = 1; link <= links; link++)
        {
            File.CreateSymbolicLink(At($"{link}"), $"{link - 1}");
        }

        Assert.Equal(isWritten, DurableFile.WriteText(At($"{links}"), "new", WriteOptions.Replacing).IsWritten);
        Assert.Equal(isWritten ? "new" : "old", File.ReadAllText(At("0")));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Write_Replacing_KeepsPermissionsAndMarks(bool plain)
    {
        NeedLinux();
        File.WriteAllText(At("a"), "old");
        const UnixFileMode Odd = UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead | UnixFileMode.OtherExecute;
        SetMode(At("a"), Odd);
        SetMark(At("a"), "user.mark", "tune"u8);

        DurableFile.WriteText(At("a"), "new", new WriteOptions { Replace = true, IsPlain = plain }).ThrowIfRefused();

        Assert.Equal(Odd, Mode(At("a")));
        Assert.Equal("tune", Mark(At("a"), "user.mark"));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Write_New_HasThePermissionsOfAnyNewFile(bool plain)
    {
        NeedLinux();
        File.WriteAllText(At("usual"), "x");

        DurableFile.WriteText(At("a"), "x", new WriteOptions { IsPlain = plain }).ThrowIfRefused();
        DurableFile.WriteText(At("b"), "x", new WriteOptions { IsPlain = plain, Replace = true }).ThrowIfRefused();

        Assert.Equal(Mode(At("usual")), Mode(At("a")));
        Assert.Equal(Mode(At("usual")), Mode(At("b")));
    }

    [Fact]
    public void Write_ReplacingAsRoot_KeepsTheOwner()
    {
        NeedRoot();
        File.WriteAllText(At("a"), "old");
        Run("chown", "1234:2345", At("a"));

        DurableFile.WriteText(At("a"), "new", WriteOptions.Replacing).ThrowIfRefused();

        Assert.Equal("1234:2345", Run("stat", "-c", "%u:%g", At("a")).Output.Trim());
    }

    [Fact]
    public void Write_ReplacingAForeignFile_GivesTheNewGroupNoMoreThanEverybodyHad()
    {
        NeedRoot();
        OpenToAll();
        File.WriteAllText(At("a"), "old");
        Run("chmod", "660", At("a"));

        // The file belongs to another user for a moment, who may write to it through its group and must not keep it in their own group.
        Run("chown", "1234:2345", At("a"));
        var said = Shell($"setpriv --reuid 4321 --regid 4321 --groups 2345,4321 $CHILD once '{At("a")}' 5 replace");

        Assert.Equal("written", said.Output.Trim());
        Assert.Equal("4321:2345 660", Run("stat", "-c", "%u:%g %a", At("a")).Output.Trim());

        Run("chown", "1234:2345", At("a"));
        Run("chmod", "662", At("a"));
        said = Shell($"setpriv --reuid 4321 --regid 4321 --clear-groups $CHILD once '{At("a")}' 5 replace");

        Assert.Equal("written", said.Output.Trim());
        Assert.Equal("4321:4321 622", Run("stat", "-c", "%u:%g %a", At("a")).Output.Trim());
    }

    [Fact]
    public void Write_FolderOfSomebodyElse_IsRefusedWithTheRemedy()
    {
        NeedRoot();
        Run("chmod", "755", Folder);

        var said = Shell($"setpriv --reuid 4321 --regid 4321 --clear-groups $CHILD once '{At("a")}' 5");

        Assert.Equal(
            $"refused NoPermission {At("a")}: no permission to write this file or its folder {Folder}; choose another folder, or change the permissions",
            said.Output.Trim());
        Assert.Empty(Names());
    }

    [Fact]
    public void Write_ProtectedFile_IsNotReplaced()
    {
        File.WriteAllText(At("a"), "old");
        new FileInfo(At("a")).IsReadOnly = true;

        Assert.Equal(FileProblem.WriteProtected, Refusal(DurableFile.WriteText(At("a"), "new", WriteOptions.Replacing)).Problem);

        new FileInfo(At("a")).IsReadOnly = false;
        Assert.Equal("old", File.ReadAllText(At("a")));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Write_ImmutableFile_IsRefusedAndNothingIsLeft(bool plain)
    {
        NeedRoot();
        File.WriteAllText(At("a"), "old");
        Testing.References.Require(Run("chattr", "+i", At("a")).Code == 0, "This file system has no immutable files.");
        try
        {
            var refusal = Refusal(DurableFile.WriteText(At("a"), "new", new WriteOptions { Replace = true, IsPlain = plain }));

            Assert.True(refusal.Problem is FileProblem.NoPermission or FileProblem.WriteProtected, refusal.Message);
            Assert.Equal(["a"], Names());
        }
        finally
        {
            Run("chattr", "-i", At("a"));
        }
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Write_FullDisk_KeepsTheOldFileAndNamesIt(bool plain)
    {
        var disk = Mount("64k");
        var path = Path.Combine(disk, "a.wav");
        File.WriteAllText(path, "old");

        var refusal = Refusal(DurableFile.WriteBytes(path, new byte[200_000], new WriteOptions { Replace = true, IsPlain = plain }));

        Assert.Equal(FileProblem.DiskFull, refusal.Problem);
        Assert.Equal($"{path}: the disk is full; free some space, or choose another disk", refusal.Message);
        Assert.Equal("old", File.ReadAllText(path));
        Assert.Equal(["a.wav"], Names(disk));
    }

    [Fact]
    public void Write_FullDisk_NamesTheFileAlsoWhereContentMeetsIt()
    {
        var disk = Mount("64k");

        var result = DurableFile.Write(Path.Combine(disk, "a"), stream =>
        {
            var refused = Assert.Throws<FileRefusedException>(() =>
            {
                for (var count = 0; count < 100; count++)
                {
                    stream.Write(new byte[10_000]);
                }
            });
            Assert.Equal(FileProblem.DiskFull, refused.Refusal.Problem);
            throw refused;
        });

        Assert.Equal(FileProblem.DiskFull, Refusal(result).Problem);
        Assert.Empty(Names(disk));
    }

    [Fact]
    public void Write_ReadOnlyFileSystem_IsRefusedInPlainWords()
    {
        var disk = Mount("64k");
        File.WriteAllText(Path.Combine(disk, "a"), "old");
        Run("mount", "-o", "remount,ro", disk);

        var refusal = Refusal(DurableFile.WriteText(Path.Combine(disk, "a"), "new", WriteOptions.Replacing));

        Assert.Equal($"{Path.Combine(disk, "a")}: the file system of {disk} is read-only; choose another folder", refusal.Message);
        Assert.Equal("old", File.ReadAllText(Path.Combine(disk, "a")));
    }

    [Theory]
    [InlineData("")]
    [InlineData("plain")]
    public void Write_BeyondTheUsersLimit_IsRefusedAndNothingIsLeft(string how)
    {
        NeedLinux();
        File.WriteAllText(At("a"), "old");

        var said = Shell($"ulimit -f 64; $CHILD once '{At("a")}' 200000 replace {how}");

        Assert.StartsWith("refused TooLarge " + At("a"), said.Output, StringComparison.Ordinal);
        Assert.Equal("old", File.ReadAllText(At("a")));
        Assert.Equal(["a"], Names());
    }

    [Fact]
    public async Task Write_Pipe_IsWrittenToDirectly()
    {
        NeedLinux();
        Run("mkfifo", At("pipe"));
        var read = Task.Run(() => File.ReadAllText(At("pipe")), TestContext.Current.CancellationToken);

        var result = DurableFile.Write(At("pipe"), stream =>
        {
            Assert.False(stream.CanSeek);
            stream.Write("through"u8);
        });

        Assert.True(result.IsWritten);
        Assert.Equal("through", await read);
        Assert.Equal(["pipe"], Names());
        Assert.Equal(FileKind.Pipe, FileFacts.Of(At("pipe"), out _).Kind);
    }

    [Fact]
    public void Write_PipeWhoseReaderEnds_IsRefused()
    {
        NeedLinux();
        Run("mkfifo", At("pipe"));
        var reader = new Thread(() =>
        {
            using var pipe = new FileStream(At("pipe"), FileMode.Open, FileAccess.Read);
            pipe.ReadExactly(new byte[10]);
        });
        reader.Start();

        var result = DurableFile.Write(At("pipe"), stream =>
        {
            stream.Write(new byte[10]);
            reader.Join();
            stream.Write(new byte[10]);
        });

        Assert.Equal(FileProblem.ReaderGone, Refusal(result).Problem);
    }

    [Fact]
    public void Write_Devices_AreWrittenToDirectly()
    {
        NeedLinux();

        Assert.True(DurableFile.WriteText("/dev/null", "away").IsWritten);
        Assert.Equal(FileProblem.DiskFull, Refusal(DurableFile.WriteText("/dev/full", "x")).Problem);
        Assert.True(DurableFile.IsStream("/dev/null"));
        Assert.False(DurableFile.IsStream(At("a")));
        Assert.Equal(FileKind.CharacterDevice, FileFacts.Of("/dev/null", out _).Kind);
    }

    [Theory]
    [InlineData("$CHILD stream /dev/stdout text | cat")]
    [InlineData("$CHILD stream /dev/stdout text > FILE; cat FILE")]
    [InlineData("$CHILD stream /dev/fd/5 text 5> FILE; cat FILE")]
    public void Write_OpenStream_IsTheOneThatIsMeant(string command) =>
        Assert.Equal("text", Shell(command.Replace("FILE", At("out"), StringComparison.Ordinal)).Output);

    [Fact]
    public void Write_OpenStreamOfSeveralWriters_GoesOnWhereItStands()
    {
        NeedLinux();
        File.WriteAllText(At("appended"), "before ");

        Shell($"$CHILD stream /dev/stdout text >> '{At("appended")}'");
        Shell($"(printf 'one '; $CHILD stream /dev/stdout two; printf ' three') > '{At("shared")}'");

        Assert.Equal("before text", File.ReadAllText(At("appended")));
        Assert.Equal("one two three", File.ReadAllText(At("shared")));
    }

    [Fact]
    public void Write_ClosedStream_IsRefused()
    {
        NeedLinux();

        Assert.False(DurableFile.WriteText("/dev/fd/987", "x").IsWritten);
    }

    [Fact]
    public void Write_Disk_IsRefused()
    {
        NeedRoot();
        Testing.References.Require(Run("mknod", At("disk"), "b", "7", "200").Code == 0, "Devices cannot be created here.");

        Assert.Equal(FileProblem.NotAFile, Refusal(DurableFile.WriteText(At("disk"), "x", WriteOptions.Replacing)).Problem);
    }

    [Fact]
    public void Write_Socket_IsRefused()
    {
        NeedLinux();
        using var socket = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
        socket.Bind(new UnixDomainSocketEndPoint(At("s")));

        Assert.Equal(FileProblem.NotAFile, Refusal(DurableFile.WriteText(At("s"), "x", WriteOptions.Replacing)).Problem);
    }

    [Fact]
    public void Check_WhatWouldBeRefused_IsSaidWithoutWriting()
    {
        File.WriteAllText(At("a"), "old");

        Assert.Equal(FileProblem.AlreadyExists, DurableFile.Check(At("a"))?.Problem);
        Assert.Equal(FileProblem.FolderMissing, DurableFile.Check(At("none/a"))?.Problem);
        Assert.Null(DurableFile.Check(At("a"), WriteOptions.Replacing));
        Assert.Null(DurableFile.Check(At("b")));
        Assert.Equal(["a"], Names());
    }

    [Fact]
    public void RealPath_OfALink_IsTheFileItLeadsTo()
    {
        NeedLinux();
        File.CreateSymbolicLink(At("link"), "a");

        Assert.Equal(At("a"), DurableFile.RealPath(At("link")));
        Assert.Equal(At("b"), DurableFile.RealPath(At("b")));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void ForgetUnfinished_WhileWriting_RemovesAndRefuses(bool plain)
    {
        File.WriteAllText(At("a"), "old");
        using var file = UnfinishedFile.Begin(At("a"), new WriteOptions { Replace = true, IsPlain = plain });
        file.Stream.Write("new"u8);

        // A separate registry, because other tests write at the same time.
        file.Abandon();

        Assert.Equal(["a"], Names());
        Assert.Equal(FileProblem.Abandoned, Assert.Throws<FileRefusedException>(() => file.Stream.Write("more"u8)).Refusal.Problem);
        Assert.Equal(FileProblem.Abandoned, Assert.Throws<FileRefusedException>(() => file.Commit()).Refusal.Problem);
        Assert.Equal("old", File.ReadAllText(At("a")));
    }

    [Theory]
    [InlineData("TERM", "")]
    [InlineData("TERM", "plain")]
    [InlineData("INT", "plain")]
    [InlineData("HUP", "plain")]
    [InlineData("KILL", "")]
    public void Write_EndedBySignal_LeavesNothing(string signal, string how)
    {
        var child = Child(["write", At("a"), how]);

        Run("kill", "-s", signal, $"{child.Id}");
        child.WaitForExit();

        Assert.Empty(Names());
    }

    [Fact]
    public void Write_ProgramLeavesInTheMiddle_LeavesNothing()
    {
        Assert.Equal("left 1", Shell($"$CHILD leave '{At("a")}'").Output.Trim());
        Assert.Empty(Names());
    }

    [Fact]
    public void Write_FolderWithFilesOfDeadWriters_RemovesThoseOnly()
    {
        var dead = Child(["write", At("dead"), "plain"]);
        var left = Assert.Single(Names());
        Child(["write", At("live"), "plain"]);
        var writing = Assert.Single(Names(), name => name != left);
        dead.Kill();
        dead.WaitForExit();
        File.WriteAllText(At(".groovelab-00000000-1-1-1-1.part"), "of another machine, just now");
        File.WriteAllText(At(".groovelab-00000000-1-1-1-2.part"), "of another machine, long ago");
        File.SetLastWriteTimeUtc(At(".groovelab-00000000-1-1-1-2.part"), DateTime.UtcNow.AddDays(-2));
        File.WriteAllText(At(".groovelab-some-notes.part"), "not one of them");
        Assert.Contains(left, Names());

        DurableFile.WriteText(At("a"), "x").ThrowIfRefused();

        Assert.Equal(new[] { ".groovelab-00000000-1-1-1-1.part", ".groovelab-some-notes.part", writing, "a" }.Order(StringComparer.Ordinal), Names());
    }

    [Fact]
    public void Write_NumberOfADeadProcessUsedAgain_IsKnownByItsStart()
    {
        NeedLinux();
        var own = Temporaries.NewPath(Folder);
        var parts = Path.GetFileName(own).Split('-');
        parts[4] = "1";
        File.WriteAllText(At(string.Join('-', parts)), "of an earlier process of this number");
        File.WriteAllText(own, "of this process");

        DurableFile.WriteText(At("a"), "x").ThrowIfRefused();

        Assert.Equal([Path.GetFileName(own), "a"], Names());
    }

    private static unsafe void SetMark(string path, string name, ReadOnlySpan<byte> value)
    {
        using var file = File.OpenHandle(path, FileMode.Open, FileAccess.Write);
        fixed (byte* bytes = value)
        {
            Testing.References.Require(
                !OperatingSystem.IsLinux() || PosixCalls.SetAttribute(file, name, bytes, value.Length, 0) == 0, "Files have no user attributes here.");
        }
    }

    private static unsafe string Mark(string path, string name)
    {
        var value = new byte[100];
        fixed (byte* bytes = value)
        {
            var length = OperatingSystem.IsLinux() ? PosixCalls.GetAttribute(path, name, bytes, value.Length) : 0;
            return Encoding.UTF8.GetString(value, 0, (int)Math.Max(0, length));
        }
    }

    private void OpenToAll() => Run("chmod", "777", Folder);
}
