using Xunit;

namespace GrooveLab.Files.Tests;

public sealed class MadeFolderTests : Sandbox
{
    private const string Record = "record.json";

    private static readonly ContentHash Old = ContentHash.Of("old inputs");
    private static readonly ContentHash New = ContentHash.Of("new inputs");

    private string Pack => At("pack");

    [Fact]
    public void Place_NewFile_IsKnownToTheNextRun()
    {
        Make(("a/b.txt", "content", Old));

        Assert.Equal(["a", Record], Names(Pack));
        Assert.Equal("content", File.ReadAllText(Path.Combine(Pack, "a", "b.txt")));
        using var folder = MadeFolder.Open(Pack, Record);
        Assert.True(folder.IsCurrent("a/b.txt", Old));
        Assert.False(folder.IsCurrent("a/b.txt", New));
        Assert.False(folder.IsCurrent("a/c.txt", Old));
    }

    [Fact]
    public void IsCurrent_ChangedOrMissingFile_IsFalse()
    {
        Make(("a.txt", "content", Old), ("b.txt", "content", Old), ("c.txt", "content", Old));
        File.WriteAllText(Path.Combine(Pack, "a.txt"), "CONTENT");
        File.Delete(Path.Combine(Pack, "b.txt"));

        using var folder = MadeFolder.Open(Pack, Record);
        Assert.False(folder.IsCurrent("a.txt", Old));
        Assert.False(folder.IsCurrent("b.txt", Old));
        Assert.True(folder.IsCurrent("c.txt", Old));
    }

    [Fact]
    public void Place_OwnOlderFile_IsReplaced()
    {
        Make(("a.txt", "one", Old));
        Make(("a.txt", "two", New));

        Assert.Equal(["a.txt", Record], Names(Pack));
        Assert.Equal("two", File.ReadAllText(Path.Combine(Pack, "a.txt")));
    }

    [Fact]
    public void Place_FileThatSomebodyChanged_KeepsTheirsBeside()
    {
        Make(("a.txt", "one", Old));
        File.WriteAllText(Path.Combine(Pack, "a.txt"), "mine");
        File.WriteAllText(Path.Combine(Pack, "a (changed).txt"), "mine too");

        var aside = Make(("a.txt", "two", New));

        Assert.Equal(["a (changed 2).txt"], aside);
        Assert.Equal("two", File.ReadAllText(Path.Combine(Pack, "a.txt")));
        Assert.Equal("mine", File.ReadAllText(Path.Combine(Pack, "a (changed 2).txt")));
        Assert.Equal("mine too", File.ReadAllText(Path.Combine(Pack, "a (changed).txt")));
    }

    [Fact]
    public void Place_AfterARunThatEndedBeforeTheMove_ReplacesTheOlderFile()
    {
        Make(("a.txt", "one", Old));

        // As the record stands at that moment: the new content is in it, the old one in the file.
        var text = File.ReadAllText(Path.Combine(Pack, Record));
        var one = ContentHash.Of("one").ToString();
        File.WriteAllText(Path.Combine(Pack, Record), text.Replace($"\"content\": \"{one}\"", $"\"content\": \"{ContentHash.Of("two")}\", \"before\": \"{one}\"", StringComparison.Ordinal));

        using (var folder = MadeFolder.Open(Pack, Record))
        {
            Assert.False(folder.IsCurrent("a.txt", Old));
        }

        Assert.Empty(Make(("a.txt", "three", New)));
        Assert.Equal("three", File.ReadAllText(Path.Combine(Pack, "a.txt")));
    }

    [Fact]
    public void Remove_UnchangedFile_GoesWithItsEmptyFolders()
    {
        Make(("a/b/c.txt", "one", Old), ("a/d.txt", "two", Old), ("e/f.txt", "three", Old));
        File.WriteAllText(Path.Combine(Pack, "e", "f.txt"), "mine");

        using (var folder = MadeFolder.Open(Pack, Record))
        {
            Assert.Equal(Removal.Removed, folder.Remove("a/b/c.txt"));
            Assert.Equal(Removal.KeptChanged, folder.Remove("e/f.txt"));
            Assert.Equal(["a/d.txt"], folder.Files.Select(file => file.Path));
        }

        Assert.Equal(["d.txt"], Names(Path.Combine(Pack, "a")));
        Assert.Equal("mine", File.ReadAllText(Path.Combine(Pack, "e", "f.txt")));
    }

    [Fact]
    public void Open_FolderWithOtherFiles_IsRefusedAndUntouched()
    {
        Directory.CreateDirectory(Pack);
        File.WriteAllText(Path.Combine(Pack, "mine.txt"), "mine");

        var refused = Assert.Throws<FileRefusedException>(() => MadeFolder.Open(Pack, Record));

        Assert.Contains("contains other files", refused.Message, StringComparison.Ordinal);
        Assert.Equal(["mine.txt"], Names(Pack));
    }

    [Fact]
    public void Open_WhileAnotherRunUsesIt_IsRefused()
    {
        using var first = MadeFolder.Open(Pack, Record);
        var refused = Assert.Throws<FileRefusedException>(() => MadeFolder.Open(Pack, Record));
        Assert.Equal(FileProblem.Busy, refused.Refusal.Problem);
    }

    [Fact]
    public void Dispose_NothingMadeInANewFolder_LeavesNothing()
    {
        MadeFolder.Open(Pack, Record).Dispose();
        Assert.Empty(Names());
    }

    [Fact]
    public void Dispose_StagedFiles_AreRemoved()
    {
        Make(("a.txt", "one", Old));
        using (var folder = MadeFolder.Open(Pack, Record))
        {
            File.WriteAllText(folder.Stage(".txt"), "half");
        }

        Assert.Equal(["a.txt", Record], Names(Pack));
    }

    [Fact]
    public void Foreign_WhatWasNotMadeHere_IsNamed()
    {
        NeedLinux();
        Make(("a.txt", "one", Old), ("b/c.txt", "two", Old));
        File.WriteAllText(Path.Combine(Pack, "mine.txt"), "mine");
        Directory.CreateDirectory(Path.Combine(Pack, "folder.txt"));
        Directory.CreateSymbolicLink(Path.Combine(Pack, "link"), At("elsewhere"));

        using var folder = MadeFolder.Open(Pack, Record);
        Assert.Equal(
            ["mine.txt", "folder.txt", "link/x.txt", "mine.txt/x.txt"],
            folder.Foreign(["a.txt", "b/c.txt", "mine.txt", "new.txt", "folder.txt", "link/x.txt", "mine.txt/x.txt", "new/x.txt"]));
        var staged = folder.Stage(".txt");
        File.WriteAllText(staged, "made");
        Assert.Throws<FileRefusedException>(() => folder.Place([(staged, "mine.txt", New)]));
        Assert.Equal("mine", File.ReadAllText(Path.Combine(Pack, "mine.txt")));
    }

    [Theory]
    [InlineData("")]
    [InlineData("{ half")]
    [InlineData("[]")]
    [InlineData("{\"format\": 2, \"files\": []}")]
    [InlineData("{\"format\": 1, \"files\": [{\"path\": \"/etc/passwd\", \"inputs\": \"INPUTS\", \"bytes\": 1, \"content\": \"INPUTS\"}]}")]
    [InlineData("{\"format\": 1, \"files\": [{\"path\": \"a/../../b\", \"inputs\": \"INPUTS\", \"bytes\": 1, \"content\": \"INPUTS\"}]}")]
    [InlineData("{\"format\": 1, \"files\": [{\"path\": \"record.json\", \"inputs\": \"INPUTS\", \"bytes\": 1, \"content\": \"INPUTS\"}]}")]
    public void Open_DamagedRecord_LosesNothing(string text)
    {
        Make(("same.txt", "same", Old), ("other.txt", "one", Old));
        var damaged = text.Replace("INPUTS", Old.ToString(), StringComparison.Ordinal);
        File.WriteAllText(Path.Combine(Pack, Record), damaged);

        using (var folder = MadeFolder.Open(Pack, Record))
        {
            Assert.True(folder.IsDamaged);
            Assert.Empty(folder.Files);
            Assert.Empty(folder.Foreign(["same.txt", "other.txt"]));
            Place(folder, ("same.txt", "same", Old), ("other.txt", "two", Old));
            folder.Finish();
            Assert.Equal(["record (changed).json", "other (changed).txt"], folder.KeptAside);
        }

        Assert.Equal(["other (changed).txt", "other.txt", "record (changed).json", Record, "same.txt"], Names(Pack));
        Assert.Equal("one", File.ReadAllText(Path.Combine(Pack, "other (changed).txt")));
        Assert.Equal(damaged, File.ReadAllText(Path.Combine(Pack, "record (changed).json")));
    }

    [Fact]
    public void Place_FileBesideTheFolder_IsForgottenUnderAnotherName()
    {
        Make(("../pack.zip", "archive", Old), ("a.txt", "one", Old));
        Assert.Equal("archive", File.ReadAllText(At("pack.zip")));
        using (var folder = MadeFolder.Open(Pack, Record))
        {
            Assert.True(folder.IsCurrent("../pack.zip", Old));
        }

        Directory.Move(Pack, At("moved"));
        using var moved = MadeFolder.Open(At("moved"), Record);
        Assert.False(moved.IsDamaged);
        Assert.Equal(["a.txt"], moved.Files.Select(file => file.Path));
    }

    [Fact]
    public void Place_FullDisk_LeavesTheOldFileAndTheRecord()
    {
        var folderPath = Path.Combine(Mount("64k"), "pack");
        using (var folder = MadeFolder.Open(folderPath, Record))
        {
            Place(folder, ("a.txt", "one", Old));
            var refused = Assert.Throws<FileRefusedException>(() => DurableFile.WriteBytes(folder.Stage(".txt"), new byte[1 << 17]).ThrowIfRefused());
            Assert.Equal(FileProblem.DiskFull, refused.Refusal.Problem);
        }

        using var again = MadeFolder.Open(folderPath, Record);
        Assert.True(again.IsCurrent("a.txt", Old));
    }

    private IReadOnlyList<string> Make(params (string Path, string Content, ContentHash Inputs)[] files)
    {
        using var folder = MadeFolder.Open(Pack, Record);
        Place(folder, files);
        folder.Finish();
        return folder.KeptAside;
    }

    private static void Place(MadeFolder folder, params (string Path, string Content, ContentHash Inputs)[] files) =>
        folder.Place([.. files.Select(file =>
        {
            var staged = folder.Stage(".txt");
            File.WriteAllText(staged, file.Content);
            return (staged, file.Path, file.Inputs);
        })]);
}
