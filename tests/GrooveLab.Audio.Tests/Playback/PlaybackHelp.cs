using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Audio.Tests.Playback;

/// <summary>Helpers for the playback tests.</summary>
internal static class PlaybackHelp
{
    public const int Rate = 48_000;

    public static readonly Tempo Brisk = Tempo.Of(Span.Of(1, 8), 300);

    public static OfflinePlayer Player(
        IBarSource source, RecordingSynth synth, EngineOptions? options = null, Func<PartChannels, bool>? plays = null, bool limited = false) =>
        new(BarRoute.Whole(source), synth, options ?? new EngineOptions(), plays, limited);

    public static float[] ReadAll(OfflinePlayer player, Func<int> frames)
    {
        var all = new List<float>();
        var block = new float[2 * 8192];
        while (true)
        {
            var wanted = frames();
            var read = player.Read(block.AsSpan(0, 2 * wanted));
            all.AddRange(block.AsSpan(0, read));
            if (read < 2 * wanted)
            {
                return [.. all];
            }
        }
    }

    public static float[] ReadAll(OfflinePlayer player) => ReadAll(player, () => 4096);

    public static void ReadTo(OfflinePlayer player, long frame)
    {
        var block = new float[2 * 4096];
        while (player.Engine.Playhead.Frame < frame)
        {
            var count = (int)Math.Min(4096, frame - player.Engine.Playhead.Frame);
            Assert.Equal(2 * count, player.Read(block.AsSpan(0, 2 * count)));
        }
    }

    public static IReadOnlyList<EngineReport> Reports(OfflinePlayer player)
    {
        var reports = new List<EngineReport>();
        while (player.Engine.TryTakeReport(out var report))
        {
            reports.Add(report);
        }

        return reports;
    }

    /// <summary>Checks that every note-on has its note-off, and every note-off its note-on.</summary>
    public static void AssertNothingHangs(RecordingSynth synth)
    {
        var down = new HashSet<(int Channel, int Key)>();
        foreach (var call in synth.Calls)
        {
            if (call.Kind == CallKind.On)
            {
                Assert.True(down.Add((call.Channel, call.Key)), $"Key {call.Key} got a note-on on frame {call.Frame} while it was down.");
            }
            else if (call.Kind == CallKind.Off)
            {
                Assert.True(down.Remove((call.Channel, call.Key)), $"Key {call.Key} got a note-off on frame {call.Frame} while it was up.");
            }
        }

        Assert.Empty(down);
    }
}
