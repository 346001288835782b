#!/usr/bin/env perl
# Puts players of a demo's recording before shared microphones.
#
#   mix.pl IN.wav OUT.wav 1,2,3 4,5     a channel for each group of channels, counted from 1
use strict;
use warnings;

my ($in, $out, @groups) = @ARGV;
die "give a recording, a name for the mix, and groups of channels\n" unless @groups;
open my $file, '<:raw', $in or die "cannot read $in: $!\n";
my $wav = do { local $/; <$file> };
my ($channels, $rate, $bits) = unpack 'x2 v V x6 v', substr $wav, index($wav, 'fmt ') + 8, 16;
die "not 32 bits a sample\n" unless $bits == 32;
my $at = index($wav, 'data');
my $size = unpack 'V', substr $wav, $at + 4, 4;
my @samples = unpack 'f<*', substr $wav, $at + 8, $size;
my @mix;
for (my $frame = 0; $frame + $channels <= @samples; $frame += $channels) {
    for my $group (@groups) {
        my $sum = 0;
        $sum += $samples[$frame + $_ - 1] for split /,/, $group;
        push @mix, 0.5 * $sum;
    }
}
my $data = pack 'f<*', @mix;
my $n = @groups;
open my $target, '>:raw', $out or die "cannot write $out: $!\n";
print $target pack('a4 V a4 a4 V v v V V v v a4 V', 'RIFF', 36 + length $data, 'WAVE', 'fmt ', 16,
    3, $n, $rate, 4 * $n * $rate, 4 * $n, 32, 'data', length $data), $data;
close $target or die "cannot write $out: $!\n";
