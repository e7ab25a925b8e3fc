using GrooveLab.Store;
using Xunit;

namespace GrooveLab.Tests.Store;

public sealed class SavedChartTests : StoreFolder
{
    [Fact]
    public void Save_Twice_KeepsTheTextThatWasReadAndNamesItWhereSomethingOfItIsMissing()
    {
        File.WriteAllText(Song, "with the tune");
        var chart = new SavedChart(Song, "with the tune", Data);

        var first = chart.Save("without", null, " without the tune", isPart: true);
        var second = chart.Save("without, slower", null, " without the tune", isPart: true);
        var third = chart.Save("with the tune, slower", null);

        Assert.Equal((true, "saved in song.toml without the tune; old version in song.toml~"), (first.Taken, first.Says));
        Assert.Equal((true, "saved in song.toml without the tune; old version in song.toml~"), (second.Taken, second.Says));
        Assert.Equal("saved in song.toml", third.Says);
        Assert.Equal("with the tune", Read(Song + "~"));
        Assert.Equal("with the tune, slower", Read(Song));
    }

    [Fact]
    public void Save_ChangedOutside_IsOfferedAndKeptWhenSavedAnyway()
    {
        File.WriteAllText(Song, "read");
        var chart = new SavedChart(Song, "read", Data);
        File.WriteAllText(Song, "edited");

        var noticed = chart.Save("ours", null);
        Assert.Equal(
            (false, "not saved: song.toml was edited elsewhere; 'save anyway' replaces it and keeps it as song.toml~, 'save FILE' writes another file"),
            (noticed.Taken, noticed.Says));
        Assert.Equal("edited", Read(Song));
        var anyway = chart.SaveAnyway("ours");

        Assert.Equal((true, "saved in song.toml; old version in song.toml~"), (anyway.Taken, anyway.Says));
        Assert.Equal(("ours", "edited"), (Read(Song), Read(Song + "~")));
        Assert.True(chart.Save("ours, slower", null).Taken);
        Assert.Equal("edited", Read(Song + "~"));
    }

    [Fact]
    public void SaveAnyway_WithoutTheTune_NamesTheCopiesOfBothTexts()
    {
        File.WriteAllText(Song, "with the tune");
        var chart = new SavedChart(Song, "with the tune", Data);
        chart.Save("without", null, " without the tune", isPart: true);
        File.WriteAllText(Song, "edited");
        chart.Save("without, slower", null, " without the tune", isPart: true);

        Assert.Equal(
            "saved in song.toml without the tune; old version in song.toml~2; replaced version in song.toml~",
            chart.SaveAnyway("without, slower", " without the tune", isPart: true).Says);
        Assert.Equal(
            "saved in song.toml without the tune; old version in song.toml~2", chart.Save("without, slow", null, " without the tune", isPart: true).Says);
        Assert.Equal(("edited", "with the tune"), (Read(Song + "~"), Read(Song + "~2")));
    }

    [Fact]
    public void SaveAnyway_ChangedOnceMore_IsOfferedAgain()
    {
        File.WriteAllText(Song, "read");
        var chart = new SavedChart(Song, "read", Data);
        File.WriteAllText(Song, "edited");
        chart.Save("ours", null);
        File.WriteAllText(Song, "edited again");

        Assert.False(chart.SaveAnyway("ours").Taken);

        Assert.Equal("edited again", Read(Song));
        Assert.True(chart.SaveAnyway("ours").Taken);
        Assert.Equal("edited again", Read(Song + "~"));
    }

    [Fact]
    public void SaveAnyway_NothingWasOffered_SavesAsUsual()
    {
        File.WriteAllText(Song, "read");
        var chart = new SavedChart(Song, "read", Data);
        File.WriteAllText(Song, "edited");

        Assert.False(chart.SaveAnyway("ours").Taken);
        Assert.Equal("edited", Read(Song));
    }

    [Fact]
    public void Save_Deleted_IsSaidAndWrittenAgainWhenWanted()
    {
        File.WriteAllText(Song, "read");
        var chart = new SavedChart(Song, "read", Data);
        File.Delete(Song);

        Assert.Equal(
            "not saved: song.toml was deleted; 'save anyway' writes it again, 'save FILE' writes another file",
            chart.Save("ours", null).Says);
        Assert.Equal("saved in song.toml", chart.SaveAnyway("ours").Says);
        Assert.Equal(["song.toml"], Names(Songs));
    }

    [Fact]
    public void Save_AnotherName_IsNotReplacedUnlessAskedAndThenOurs()
    {
        File.WriteAllText(Song, "read");
        var other = Path.Combine(Songs, "other.toml");
        File.WriteAllText(other, "somebody's");
        var chart = new SavedChart(Song, "read", Data);

        Assert.StartsWith("not saved: other.toml already exists; 'save anyway'", chart.Save("ours", other).Says, StringComparison.Ordinal);
        Assert.Equal("saved in other.toml; old version in other.toml~", chart.SaveAnyway("ours").Says);
        Assert.Equal("saved in other.toml", chart.Save("ours, slower", other).Says);

        Assert.Equal(("ours, slower", "somebody's", "read"), (Read(other), Read(other + "~"), Read(Song)));
    }

    [Fact]
    public void Save_ThroughALinkToTheChart_MeetsTheChart()
    {
        Assert.SkipWhen(OperatingSystem.IsWindows(), "Links need a privilege there.");
        File.WriteAllText(Song, "read");
        var link = Path.Combine(Songs, "link.toml");
        File.CreateSymbolicLink(link, Song);
        var chart = new SavedChart(link, "read", Data);

        Assert.True(chart.Save("ours", null).Taken);
        Assert.True(chart.Save("ours, slower", Song).Taken);

        Assert.Equal(("ours, slower", "read"), (Read(Song), Read(Song + "~")));
        Assert.Equal(Song, new FileInfo(link).LinkTarget);
    }

    [Fact]
    public void Save_MissingFolder_NamesTheFolderAndNoOtherFile()
    {
        var path = Path.Combine(Songs, "none", "song.toml");

        Assert.Equal(
            $"not saved: {path}: folder not found: {Path.Combine(Songs, "none")}; create it, or choose another folder",
            new SavedChart(null, "demo", Data).Save("ours", path).Says);
    }
}
