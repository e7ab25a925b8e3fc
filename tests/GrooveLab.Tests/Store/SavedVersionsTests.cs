using GrooveLab.Store;
using Xunit;

namespace GrooveLab.Tests.Store;

public sealed class SavedVersionsTests : StoreFolder
{
    [Fact]
    public void Keep_NamesThatDifferInAnything_AreFilesOfTheirOwn()
    {
        string[] names =
        [
            "a/b", "a_b", "a b", "a:b", "a", "A.", "..", ".", "größer", new string('x', 60), new string('x', 59) + "y", string.Concat(Enumerable.Repeat("💡", 30)), "con", "a\\b",
        ];
        var versions = new SavedVersions(Song, Data);
        foreach (var name in names)
        {
            Assert.Null(versions.Keep(name, "text of " + name));
        }

        Assert.Equal(
            names.Select(name => (name, "text of " + name)).Order(), new SavedVersions(Song, Data).All().Order());
    }

    [Fact]
    public void Keep_TheSameNameInOtherLetters_TakesItsPlace()
    {
        var versions = new SavedVersions(Song, Data);
        versions.Keep("Slow", "one");
        versions.Keep("slow", "two");

        Assert.Equal([("slow", "two")], versions.All());
        versions.Remove("SLOW");
        Assert.Empty(versions.All());
    }

    [Fact]
    public void All_ChartOfThatNameElsewhere_HasItsOwn()
    {
        new SavedVersions(Song, Data).Keep("slow", "here");
        var elsewhere = new SavedVersions(Path.Combine(Data, "song.toml"), Data);

        Assert.Empty(elsewhere.All());
    }

    [Fact]
    public void All_FilesOfAnEarlierVersion_AreRead()
    {
        Directory.CreateDirectory(Path.Combine(Data, "versions", "song"));
        File.WriteAllText(Path.Combine(Data, "versions", "song", "slow.toml"), "earlier");
        File.WriteAllText(Path.Combine(Data, "versions", "song", "fast.toml"), "earlier");
        var versions = new SavedVersions(Song, Data);
        versions.Keep("slow", "now");

        Assert.Equal([("fast", "earlier"), ("slow", "now")], versions.All().Order());
    }
}
