using System.Diagnostics;
using GrooveLab.Files;
using GrooveLab.Store;
using Xunit;

namespace GrooveLab.Tests.Store;

public sealed class RecoveryTests : StoreFolder
{
    private string Kept => Path.Combine(Data, "recovery");

    [Fact]
    public void Keep_NextStart_OffersIt()
    {
        Open().Keep("changed");

        var offered = Assert.Single(Open().Offered);
        Assert.Equal(("unsaved", "changed"), (offered.Name, offered.Text));
    }

    [Fact]
    public void Offered_ChartEditedSince_IsMarkedUntilItIsSaved()
    {
        new Recovery(Song, "text", Data).Keep("changed");
        Assert.False(Assert.Single(new Recovery(Song, "text", Data).Offered).IsEdited);

        var second = new Recovery(Song, "text, edited", Data);
        Assert.True(Assert.Single(second.Offered).IsEdited);
        second.Restored("unsaved");
        second.Keep("changed and more");
        second.Leave();

        var third = new Recovery(Song, "text, edited", Data);
        Assert.True(Assert.Single(third.Offered).IsEdited);
        third.Restored("unsaved");
        third.Saved(ContentHash.Of("changed and more"));
        third.Keep("even more");

        Assert.False(Assert.Single(new Recovery(Song, "changed and more", Data).Offered).IsEdited);
    }

    [Fact]
    public void Offered_FileOfAnEarlierVersion_IsItsWholeText()
    {
        Open().Keep("any");
        File.WriteAllText(Assert.Single(Directory.GetFiles(Kept)), "first");

        var offered = Assert.Single(Open().Offered);
        Assert.Equal(("first", null, false), (offered.Text, offered.Base, offered.IsEdited));
    }

    [Fact]
    public void Keep_WhatIsOffered_IsNotLostWithTheNextChange()
    {
        Kept1("first", minutesAgo: 2);
        var second = Open();
        second.Keep("second");
        second.Leave();

        Assert.Equal([("unsaved", "second"), ("unsaved 2", "first")], Open().Offered.Select(offer => (offer.Name, offer.Text)));
    }

    [Fact]
    public void Leave_AfterRestoring_OwnFileStandsForBoth()
    {
        Kept1("first", minutesAgo: 2);
        var second = Open();
        second.Restored("UNSAVED");
        second.Keep("first and more");
        Assert.Equal(2, Names(Kept).Length);
        second.Leave();

        Assert.Equal(["first and more"], Open().Offered.Select(offer => offer.Text));
    }

    [Fact]
    public void Leave_AfterRestoringAndTakingBack_TheFirstStays()
    {
        Kept1("first", minutesAgo: 2);
        var second = Open();
        second.Restored("unsaved");
        second.Keep("first");
        second.Restored(null);
        second.Drop();
        second.Leave();

        Assert.Equal(["first"], Open().Offered.Select(offer => offer.Text));
    }

    [Fact]
    public void Saved_AfterRestoring_NothingIsOffered()
    {
        Kept1("first", minutesAgo: 2);
        var second = Open();
        second.Restored("unsaved");
        second.Keep("first and more");
        second.Saved();

        Assert.Empty(Names(Kept));
    }

    [Fact]
    public void Saved_WithoutRestoring_WhatIsOfferedStays()
    {
        Kept1("first", minutesAgo: 2);
        var second = Open();
        second.Keep("second");
        second.Saved();

        Assert.Equal(["first"], Open().Offered.Select(offer => offer.Text));
    }

    [Fact]
    public void Discard_WhatIsOffered_IsGoneAndOwnStays()
    {
        Kept1("first", minutesAgo: 3);
        Kept1("second", minutesAgo: 2);
        var third = Open();
        third.Keep("third");

        Assert.Equal(2, third.Discard());
        Assert.Equal(0, third.Discard());
        Assert.Equal(["third"], Open().Offered.Select(offer => offer.Text));
    }

    [Fact]
    public void Offered_SavedMeanwhileOrTwice_IsOfferedOnceOrNotAtAll()
    {
        Kept1("as saved", minutesAgo: 4);
        Kept1("other", minutesAgo: 3);
        Kept1("other", minutesAgo: 2);

        Assert.Equal(["other"], new Recovery(Song, "as saved", Data).Offered.Select(offer => offer.Text));
        Assert.Single(Names(Kept));
    }

    [Fact]
    public void Offered_Many_AreBounded()
    {
        for (var at = 20; at > 0; at--)
        {
            Kept1($"change {at}", at);
        }

        Assert.Equal(Enumerable.Range(1, 10).Select(at => $"change {at}"), Open().Offered.Select(offer => offer.Text));
        Assert.Equal(10, Names(Kept).Length);
    }

    [Fact]
    public void Offered_OfAProgramThatRuns_BelongsToIt()
    {
        Open().Keep("running elsewhere");
        var file = Path.Combine(Kept, Assert.Single(Names(Kept)));
        using var other = Process.Start(new ProcessStartInfo("dotnet", ["--help"]) { RedirectStandardOutput = true, UseShellExecute = false })!;
        var mark = ProcessMark.Of(other.Id);
        File.Move(file, file.Replace(ProcessMark.Own, mark, StringComparison.Ordinal));

        // It waits until its output is read.
        Assert.SkipWhen(other.HasExited, "The other process has ended already.");
        Assert.Empty(Open().Offered);

        other.Kill();
        other.WaitForExit();
        Assert.Equal(["running elsewhere"], Open().Offered.Select(offer => offer.Text));
    }

    [Fact]
    public void Offered_OfAnotherChartOfThatName_IsNotOffered()
    {
        new Recovery(Path.Combine(Data, "song.toml"), "text", Data).Keep("changed");

        Assert.Empty(Open().Offered);
    }

    [Fact]
    public void Offered_FileOfAnEarlierVersion_IsOffered()
    {
        Directory.CreateDirectory(Kept);
        File.WriteAllText(Path.Combine(Kept, $"song-{UserFolders.Mark(Song)}.toml"), "changed");

        Assert.Equal(["changed"], Open().Offered.Select(offer => offer.Text));
    }

    private Recovery Open() => new(Song, "text", Data);

    private void Kept1(string text, int minutesAgo)
    {
        var before = Names(Kept);
        Open().Keep(text);
        var file = Assert.Single(Names(Kept).Except(before));
        File.SetLastWriteTimeUtc(Path.Combine(Kept, file), DateTime.UtcNow.AddMinutes(-minutesAgo));
    }
}
