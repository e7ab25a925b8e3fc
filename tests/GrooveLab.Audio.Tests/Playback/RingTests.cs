using CsCheck;
using GrooveLab.Audio.Playback.Engine;
using Xunit;

namespace GrooveLab.Audio.Tests.Playback;

public sealed class RingTests
{
    [Fact]
    public void Ring_AnyWritesAndReads_BehavesAsAQueueOfFixedSize()
    {
        Gen.Bool.Array[0, 200].Sample(steps =>
        {
            var ring = new Ring<int>(8);
            var model = new Queue<int>();
            for (var i = 0; i < steps.Length; i++)
            {
                if (steps[i])
                {
                    Assert.Equal(model.Count < 8, ring.TryWrite(i));
                    if (model.Count < 8)
                    {
                        model.Enqueue(i);
                    }
                }
                else
                {
                    Assert.Equal(model.Count > 0, ring.TryRead(out var item));
                    Assert.Equal(model.Count > 0 ? model.Dequeue() : 0, item);
                }

                Assert.Equal(model.Count, ring.Count);
            }
        });
    }

    [Fact]
    public async Task Ring_TwoThreads_LosesNothingAndKeepsTheOrder()
    {
        const int Items = 200_000;
        var ring = new Ring<int>(64);
        var writer = Task.Run(
            () =>
            {
                for (var i = 1; i <= Items; i++)
                {
                    while (!ring.TryWrite(i))
                    {
                        Thread.Yield();
                    }
                }
            },
            TestContext.Current.CancellationToken);
        for (var expected = 1; expected <= Items;)
        {
            if (ring.TryRead(out var item))
            {
                Assert.Equal(expected++, item);
            }
            else
            {
                await Task.Yield();
            }
        }

        await writer;
        Assert.False(ring.TryRead(out _));
    }

    [Fact]
    public async Task CommandRing_SeveralWriters_LosesNothingAndKeepsEachOnesOrder()
    {
        const int Items = 50_000;
        const int Writers = 4;
        var ring = new CommandRing<(int Writer, int Item)>(64);
        var writers = Enumerable.Range(0, Writers).Select(writer => Task.Run(
            () =>
            {
                for (var i = 0; i < Items; i++)
                {
                    while (!ring.TryWrite((writer, i)))
                    {
                        Thread.Yield();
                    }
                }
            },
            TestContext.Current.CancellationToken)).ToList();
        var next = new int[Writers];
        while (next.Sum() < Items * Writers)
        {
            if (ring.TryRead(out var item))
            {
                Assert.Equal(next[item.Writer]++, item.Item);
            }
            else
            {
                await Task.Yield();
            }
        }

        await Task.WhenAll(writers);
        Assert.False(ring.TryRead(out _));
    }

    [Fact]
    public void CommandRing_Full_RefusesUntilSomethingIsTaken()
    {
        var ring = new CommandRing<int>(4);
        for (var i = 0; i < 4; i++)
        {
            Assert.True(ring.TryWrite(i));
        }

        Assert.False(ring.TryWrite(4));
        Assert.True(ring.TryRead(out var first));
        Assert.Equal(0, first);
        Assert.True(ring.TryWrite(4));
    }
}
