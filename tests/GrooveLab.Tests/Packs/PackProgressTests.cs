using GrooveLab.Pack;
using Xunit;

namespace GrooveLab.Tests.Packs;

public sealed class PackProgressTests
{
    [Fact]
    public void Begin_Piped_WritesALineForEachStep()
    {
        var clock = new Clock();
        using var to = new StringWriter { NewLine = "\n" };
        var progress = new PackProgress(to, isTerminal: false, clock, all: 100, steps: 3);

        progress.Begin("one", 20);
        progress.Show(0.5);
        clock.Seconds = 10;
        progress.EndStep();
        progress.Begin("two", 30);
        clock.Seconds = 300;
        progress.EndStep();
        progress.Begin("three", 50);
        progress.Clear();

        // A fifth took 10 s, so the rest takes 40 s; half took 300 s, so the rest takes 5 min.
        Assert.Equal("1 of 3: one\n2 of 3: two, 40 s left\n3 of 3: three, 5 min left\n", to.ToString());
    }

    [Fact]
    public void Show_OnATerminal_WritesOverOneLineAndClearsIt()
    {
        var clock = new Clock();
        using var to = new StringWriter();
        var progress = new PackProgress(to, isTerminal: true, clock, all: 10, steps: 1);

        progress.Begin("one", 10);
        clock.Seconds = 0.1;
        progress.Show(0.01);
        clock.Seconds = 4;
        progress.Show(0.5);
        progress.Clear();

        Assert.Equal("\r1 of 1: one\r1 of 1: one, 5 s left\r" + new string(' ', 21) + "\r", to.ToString());
    }

    private sealed class Clock : TimeProvider
    {
        public double Seconds { get; set; }

        public override long TimestampFrequency => 1000;

        public override long GetTimestamp() => (long)(Seconds * 1000);
    }
}
